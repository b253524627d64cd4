"""Commands while the work is done: work ticks it off task by task, prove makes the tests. The loop is in doing/loop.py."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import rules_option, width_option
from diagnose.commands.recordfile import by_option, record_option, say
from diagnose.commands.session import fingerprint
from diagnose.commands.told import book_for
from diagnose.commands.work import on_a_boat, planning
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.doing.bench import Bench
    from diagnose.record.store import CaseHead, Record

take_over_option = click.option("--take-over", is_flag=True, help="Take the case from a session that holds it still, and has ended.")


@click.command()
@click.argument("case", required=False)
@planning
@take_over_option
@by_option
@on_a_boat
@width_option
def work(case: str | None, jobs: tuple[str, ...], until: Any, hands: int, practised: bool, extras: bool, **rest: Any) -> int:
    """Do the work of a case of the record: one task at a time, ticked off, with its cautions, parts and amounts.

    The first time it is planned as by 'diagnose plan'; from then on the same plan goes on where it was left. Every tick is saved
    before the next. What lies open is asked about; what that makes worth doing too is offered. The tests come last.

    \b
    Example:
        diagnose work slow-weep-found-at-a-1
    """
    from diagnose.doing.planning import How

    how = How(until, hands, "skilled" if practised else "first_time", jobs, extras)
    return _run(case, how, tests_only=False, **rest)


@click.command()
@click.argument("case", required=False)
@take_over_option
@by_option
@on_a_boat
@width_option
def prove(case: str | None, **rest: Any) -> int:
    """Make the tests of the work done on a case: cold, filled, at the first start, warm, in gear, and some hours on.

    What is read goes into the record. A test that fails leaves the case open, or opens it again, and says what to look at next.

    \b
    Example:
        diagnose prove slow-weep-found-at-a-1
    """
    from diagnose.doing.planning import How

    return _run(case, How(), tests_only=True, **rest)


@click.command()
@click.argument("case")
@record_option
@rules_option
@width_option
def follow(case: str, path: Path | None, rules_folder: Path | None, width: int | None) -> None:
    """Follow a told case to its end: the work task by task, what came up, the tests, the case closed. For learning from.

    CASE is a file, or the name of a shipped case, that tells what was done then. It is played through the same questions that
    'work' and 'prove' ask, each answered as it is told. With --record it is kept there, and can be read and printed.

    \b
    Example:
        diagnose follow weep-to-the-proof
    """
    from tempfile import TemporaryDirectory

    from diagnose.case import load_case
    from diagnose.commands.common import case_path
    from diagnose.doing.follow import Story
    from diagnose.knowledge.load import load_rules
    from diagnose.record.store import Record

    told = load_case(case_path(case))
    with TemporaryDirectory() as folder, Record.open(path or Path(folder) / "told.db") as record:
        for _ in Story(told, load_rules(rules_folder), record, bench(width)).play():
            pass
        if path is not None:
            say(f"kept in {record.path}")


def _run(case: str | None, how: Any, *, tests_only: bool, take_over: bool, by: str | None, own: Path | None, path: Path | None,
         rules_folder: Path | None, width: int | None) -> int:
    from diagnose.doing.desk import Desk
    from diagnose.doing.loop import Working
    from diagnose.knowledge.load import load_rules
    from diagnose.record.ownfile import own_path
    from diagnose.record.store import Record

    book = load_rules(rules_folder)
    with Record.open(path, create=False) as record:
        head = _case(record, case)
        planned, file = book_for(head.boat, own, record.path, book)
        keep = own or file or own_path(record.path, head.boat)
        if file is not None:
            say(f"with what was learned on {head.boat}: {file}")

        def learn(job: str, step: str, text: str) -> str:
            from datetime import datetime

            from diagnose.knowledge.own import item_of
            from diagnose.record.ownfile import add_learned

            told = {"job": job, "step": step, "note": text, "on": datetime.now().astimezone().date(), **({"by": by} if by else {})}
            add_learned(keep, head.boat, item_of(told, where=f"{job}/{step}"))
            return f"Learned, and kept in {keep}: it is told at this step from the next plan on."

        desk = Desk(book, planned, record, head, bench(width), by, tests_only)
        return Working(desk, fingerprint, learn, how).run(take_over=take_over)


def bench(width: int | None) -> Bench:
    """The screen that the work is shown on."""
    from diagnose.commands.screen import Screen
    from diagnose.show.doingpage import WorkPaged

    class WorkScreen(WorkPaged, Screen):
        """A screen that shows work too."""

    return WorkScreen(width)


def _case(record: Record, name: str | None) -> CaseHead:
    """The case named; else the open one in which work was last planned, else the only open one.

    Raises:
        InputError: several could be meant.
    """
    if name is not None:
        return record.case_named(name)
    heads = {h.id: h for h in record.cases() if not h.closed}
    planned = [s.case for s in record.entries(kinds=("work-planned",)) if s.case in heads]
    if planned:
        return heads[str(planned[-1])]
    if len(heads) != 1:
        raise InputError("which case is not said" if heads else "there is no open case", right=", ".join(heads) or "look, to begin one")
    return next(iter(heads.values()))
