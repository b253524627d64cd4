"""The page of `replay`: for each stored assessment whether it comes out the same, and if not, what moved it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.record.replay import LineMoved, Replayed
from diagnose.show.layout import ALARM, Page
from diagnose.show.words import in_hundred, plural

MOST_LINES = 6
SAYS = {
    "same": "the same rules, the same bytes",
    "differs": "the same rules, and not the same bytes: the program has changed, or is wrong",
    "unmoved": "other rules; the decision and every line stand where they stood",
    "moved": "other rules; it comes out otherwise",
    "broken": "other rules; the case cannot be judged any more",
}


def replay_page(replayed: Sequence[Replayed], titles: Mapping[str, str], width: int) -> Page:
    """One block a stored assessment; those that a person would be told otherwise come with the alarm style."""
    page = Page(width)
    page.line(f"{plural(len(replayed), 'assessment')} made again", "bold")
    for one in replayed:
        page.line()
        page.labelled("case", f"{one.case}: {one.title} ({one.boat}), entry {one.entry}", "bold")
        page.labelled("outcome", SAYS[one.outcome] + (f" ({one.why})" if one.why else ""), ALARM if one.grave else "")
        if one.digests[0] != one.digests[1]:
            page.labelled("rules", f"then {one.versions[0]} ({one.digests[0][:12]}), now {one.versions[1]} ({one.digests[1][:12]})")
        if one.outcome == "broken":
            continue
        if one.decisions[0] != one.decisions[1]:
            page.labelled("decision", f"{one.decisions[0]} -> {one.decisions[1]}", ALARM)
        if one.holds_gone or one.holds_new:
            page.labelled("stops", "; ".join([*(f"{h} gone" for h in one.holds_gone), *(f"{h} new" for h in one.holds_new)]), ALARM)
        page.items("moved", [_line(line, titles) for line in one.lines[:MOST_LINES]])
        if one.outcome == "moved":
            page.labelled("by", _by(one))
    return page


def _line(line: LineMoved, titles: Mapping[str, str]) -> str:
    old, new = (f"place {p}" if p is not None else "no line" for p in line.places)
    places = old if old == new else f"{old} -> {new}"
    return f"{titles.get(line.fault, line.fault)}: {in_hundred(line.chances[0])} -> {in_hundred(line.chances[1])} in 100, {places}"


def _by(one: Replayed) -> str:
    if one.because is None:
        return "give the rules of then with --then (a folder, or a revision of a clone) to see which entry moved it"
    return "; ".join(f"{name} ({share * 100:.0f} in 100 of the move)" for name, share in one.because) or "no single entry"
