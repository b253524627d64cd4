"""Commands for what goes on after the look: a case closed or taken up again, and a check set to be due again and again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import rules_option
from diagnose.commands.recordfile import by_option, opened, parse_hours, parse_when, record_option, say, say_overtaken
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.record.store import Stored

note_option = click.option("--note", default=None, help="How it ended, or why it goes on, in your own words.")
at_option = click.option("--at", "at", default=None, help="When, if not now: a date, or a date and a time.")


@click.command()
@click.argument("case")
@note_option
@click.option("--unproved", default=None, help="Why the work is not proved, where it is not.")
@at_option
@by_option
@record_option
def close(case: str, note: str | None, unproved: str | None, at: str | None, by: str | None, path: Path | None) -> None:
    """Close a case: with the proof of its work, or with the reason why there is none.

    The boat stays in it as she was known then; it can be read, printed and taken up again. A case in which no work was planned is
    closed with --note, which says how it ended.

    \b
    Examples:
        diagnose close slow-weep-found-at-a-1
        diagnose close slow-weep-found-at-a-1 --unproved "sold her before the ten hours were run"
    """
    for option, text in (("--note", note), ("--unproved", unproved)):
        if text is not None and not text.strip():
            raise InputError("says nothing", where=option, right=f"{option} and the reason, in quotes")
    _turned(case, {"kind": "closed", "by": by}, at, path, closed=False, ended=lambda head, log: _ended(head, log, note, unproved))


def _ended(case: str, log: Sequence[Stored], note: str | None, unproved: str | None) -> dict[str, Any]:
    from diagnose.doing.closing import ending

    how, why_not = ending(log, case, note, unproved)
    return {"how": how, "unproved": why_not}


@click.command()
@click.argument("case")
@note_option
@at_option
@by_option
@record_option
def reopen(case: str, note: str | None, at: str | None, by: str | None, path: Path | None) -> None:
    """Take up a closed case again.

    \b
    Example:
        diagnose reopen slow-weep-found-at-a-1 --note "damp again"
    """
    _turned(case, {"kind": "reopened", "why": note, "by": by}, at, path, closed=True)


def _turned(case: str, told: dict[str, Any], at: str | None, path: Path | None, *, closed: bool,
            ended: Callable[[str, Sequence[Stored]], dict[str, Any]] | None = None) -> None:
    """Close or reopen a case that is not so yet, and that no session holds; `ended` says more of how, by its log."""
    from diagnose.record.entries import from_plain

    with opened(path) as record:
        with record.hold_case(record.case_named(case).id), record.writing():
            head = record.case_named(case)
            if head.closed != closed:
                raise InputError("is open already" if closed else "is closed already", where=head.id,
                                 right="a case that is closed" if closed else "diagnose reopen first, or a case that is open")
            when = parse_when(at)
            if when < head.opened:
                raise InputError(f"a case opened on {head.opened.astimezone():%Y-%m-%d %H:%M} cannot be closed or reopened before",
                                 where=head.id, right="a later moment with --at, or the clock of this computer set")
            if ended is not None:
                told = {**told, **ended(head.id, record.entries(case=head.id))}
            stored = record.append(from_plain({**{k: v for k, v in told.items() if v is not None}, "at": when}, where=head.id),
                                   boat=head.boat, case=head.id)
        say(f"{head.id}: {'reopened' if closed else 'closed'}")
        say_overtaken(record, stored)


@click.command("set-due")
@click.argument("boat")
@click.argument("check")
@click.option("--every-hours", default=None, help="So many engine hours after it was last made.")
@click.option("--every-days", type=click.FloatRange(0, 36_500, min_open=True), default=None, help="So many days after it was last made.")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), default=None, help="The last day it is due; alone, once by that day.")
@click.option("--off", is_flag=True, help="Take back what was set for this check.")
@click.option("--note", default=None, help="Anything worth keeping beside it.")
@by_option
@record_option
@rules_option
def set_due(boat: str, check: str, every_hours: str | None, every_days: float | None, until: Any, off: bool, note: str | None,
            by: str | None, path: Path | None, rules_folder: Path | None) -> None:
    """Set a check to be due again and again, by engine hours, by days or both; the sooner counts.

    A later setting of the same check stands in place of the earlier one. 'diagnose due' lists what is due.

    \b
    Example:
        diagnose set-due Brindle look-at-belt --every-hours 25
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.record.entries import from_plain
    from diagnose.show.entrywords import said_of
    from diagnose.show.recordpage import titles_of

    book = load_rules(rules_folder)
    name = book.now_called(check)
    if name not in book.checks:
        from diagnose.knowledge.text import did_you_mean

        near = did_you_mean(check, list(book.checks)) or "the id of a check"
        raise InputError(f"check '{check}' is not in the book", where=boat, right=near)
    if off == bool(every_hours or every_days or until):
        raise InputError("a setting is either made or taken back", where=check,
                         right="--every-hours, --every-days or --until; or only --off")
    with opened(path) as record:
        hers = record.boat_named(boat)
        if off:
            _switch_off(record, hers, name, book.renamed, by, note)
            say(f"{hers}: {book.checks[name].title}: no longer set")
            return
        told = {"kind": "due-set", "check": name, "every_hours": parse_hours(every_hours) if every_hours else None,
                "every_days": every_days, "until": until.date() if until is not None else None, "note": note, "by": by}
        stored = record.append(from_plain({k: v for k, v in told.items() if v is not None}, where=check), boat=hers)
    say(f"{hers}: {said_of(stored.entry, titles_of(book))}")


def _switch_off(record: Any, boat: str, check: str, renamed: dict[str, str], by: str | None, note: str | None) -> None:
    """Take back all standing settings of a check."""
    from diagnose.record.entries import DueSet, TakenBack

    with record.writing():
        standing = [s for s in record.entries(boat=boat, kinds=("due-set",)) if isinstance(s.entry, DueSet) and not s.taken_back
                    and renamed.get(s.entry.check, s.entry.check) == check]
        if not standing:
            raise InputError(f"nothing was set for '{check}'", where=boat, right="diagnose record, which shows what is there")
        for stored in standing:
            record.append(TakenBack(entry=stored.id, by=by, reason=note or "no longer set"), boat=boat, case=stored.case)
