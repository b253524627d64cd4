"""Commands of the guided session: look begins one from plain words, resume goes on with it. The loop is in session/sitting.py."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.commands.common import rules_option, width_option
from diagnose.commands.recordfile import by_option, record_option, sha_of
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.commands.screen import Screen
    from diagnose.record.store import CaseHead, Record


@click.command()
@click.argument("words", nargs=-1)
@click.option("--boat", default=None, help="Whose engine it is; the only boat of the record if left out.")
@click.option("--after-work", is_flag=True, help="She was just worked on.")
@by_option
@record_option
@rules_option
@width_option
def look(words: tuple[str, ...], boat: str | None, after_work: bool, by: str | None, path: Path | None, rules_folder: Path | None,
         width: int | None) -> int:
    """Have a look at her together: begin with what you noticed, in your own words; the questions follow.

    Every answer is saved before the next question. q leaves, and resume goes on.

    \b
    Example:
        diagnose look brown crust under the front pump
    """
    from diagnose.commands.screen import Screen
    from diagnose.knowledge.load import load_rules
    from diagnose.record.store import Record
    from diagnose.session.sitting import Sitting

    book = load_rules(rules_folder)
    with Record.open(path) as record:
        screen = Screen(width)
        sitting = Sitting(book, record, _boat(record, boat, screen), screen, fingerprint, by=by, after_work=after_work)
        return sitting.run(" ".join(words))


@click.command()
@click.argument("case", required=False)
@click.option("--boat", default=None, help="Only cases of this boat.")
@click.option("--take-over", is_flag=True, help="Take the case from a session that holds it still, and has ended.")
@by_option
@record_option
@rules_option
@width_option
def resume(case: str | None, boat: str | None, take_over: bool, by: str | None, path: Path | None, rules_folder: Path | None,
           width: int | None) -> int:
    """Go on with a session where it was left: the last one, or the CASE named.

    A case is open in one session at a time. Whether a session on another computer still runs cannot be seen from here, so its
    case stays with it, also when the file was copied or the computer has a new name. --take-over takes it, and says who had it.

    \b
    Examples:
        diagnose resume
        diagnose resume crust-1 --take-over
    """
    from diagnose.commands.screen import Screen
    from diagnose.knowledge.load import load_rules
    from diagnose.record.store import Record
    from diagnose.session.sitting import Sitting

    with Record.open(path, create=False) as record:
        head = record.case_named(case, boat) if case else _last_case(record, boat)
        sitting = Sitting(load_rules(rules_folder), record, head.boat, Screen(width), fingerprint, by=by)
        return sitting.go_on(head, take_over=take_over)


def _boat(record: Record, given: str | None, screen: Screen) -> str:
    """The boat meant: as named, the only one there is, or, where there is none yet, as she is called when asked.

    Raises:
        InputError: there are several, and none was named.
    """
    known = record.boats()
    if given is None and not known:
        given = screen.name_of_the_boat()
    if given is not None:
        return " ".join(given.encode("utf-8", "replace").decode("utf-8").split()) or "unnamed"
    if len(known) > 1:
        raise InputError("the record holds several boats", right=f"--boat with one of {', '.join(known)}")
    return known[0] if known else "unnamed"


def _last_case(record: Record, boat: str | None) -> CaseHead:
    heads = {h.id: h for h in record.cases(boat) if not h.closed}
    latest = [s.case for s in record.entries(boat=boat, kinds=("words",)) if s.case in heads]
    if not latest:
        raise InputError("there is no session to go on with", right="look, to begin one")
    every = [s.case for s in record.entries(boat=boat) if s.case in latest]
    return heads[str(every[-1])]


def fingerprint(path: str) -> tuple[str, str]:
    """The full path of a photo and the SHA-256 of its bytes.

    Raises:
        InputError: there is no such file, or it cannot be read.
    """
    try:
        file = Path(path).expanduser().resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise InputError(f"'{path}' is no path: {error}", right="the path of a photo") from None
    return str(file), sha_of(file)
