"""The page of `rules compare`: what differs between two versions of the rules, and which cases move."""

from __future__ import annotations

from diagnose.compare import Comparison, Move
from diagnose.show.layout import ALARM, Page
from diagnose.show.words import plural

WHAT = ("added", "retired", "vanished", "changed")
MOST_SHIFTS = 4


def compare_page(c: Comparison, width: int) -> Page:
    """Entries first, then the cases that move, the gravest first, then the version."""
    page = Page(width)
    page.line(f"Rules {c.old_version} against {c.new_version}", "bold")
    for what in WHAT:
        of_kind = [change for change in c.changes if change.what == what]
        if of_kind:
            page.line()
            page.line(f"{what} ({len(of_kind)})", "bold")
            for change in of_kind:
                keys = f" ({', '.join(change.keys)})" if change.keys else ""
                page.labelled(change.kind, f"{change.id}{keys}")
    if c.shared:
        page.labelled("shared", ", ".join(c.shared))
    if not c.changes and not c.shared:
        page.line("no entry differs")
    page.line()
    page.line(f"{plural(len(c.moves), 'case')} of {c.cases} move{'s' if len(c.moves) == 1 else ''}", "bold")
    for move in sorted(c.moves, key=lambda m: (not m.broken, not m.grave, m.case)):
        _move(page, move)
    page.line()
    low = f"; it stands at {c.new_version}, which is too low" if c.too_low else ""
    page.labelled("version", f"{c.bump} change: the new rules are {c.needed} or higher{low}" if c.bump != "none" else "as it was",
                  ALARM if c.too_low else "")
    return page


def _move(page: Page, move: Move) -> None:
    page.line()
    page.line(move.case, "bold" if move.grave else "")
    if move.broken:
        page.labelled("  broken", move.broken, ALARM)
        return
    for label, (old, new) in (("decision", move.decision), ("first", move.first)):
        if old != new:
            page.labelled(f"  {label}", f"{old} -> {new}")
    if move.holds_gone or move.holds_new:
        page.labelled("  stops", "; ".join([*(f"{h} gone" for h in move.holds_gone), *(f"{h} new" for h in move.holds_new)]))
    page.labelled("  chances", "; ".join(f"{s.fault} {s.old * 100:.0f} -> {s.new * 100:.0f}" for s in move.shifts[:MOST_SHIFTS])
                  or "none by a twentieth")
    behind = "; ".join(f"{name} ({share * 100:.0f} in 100 of the move)" for name, share in move.because)
    page.labelled("  by", behind or "no single entry")
