"""Commands for the job: the plan, the parts, the ways, what to renew while it is open, and whether it can wait."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import console, fault_named, rules_option, width_option
from diagnose.commands.recordfile import record_option
from diagnose.commands.told import book_for, own_option, planning_book, say_learned, told_case
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.knowledge.book import Book
    from diagnose.work.ground import Ground
    from diagnose.work.results import Plan

UNTIL = click.Choice(["trip", "port", "season"])
json_option = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")


def on_a_boat(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of every command that asks what work takes on one boat: her own file, the record, the rules."""
    for option in (rules_option, record_option, own_option):
        command = option(command)
    return command


def planning(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of every command that makes a plan."""
    for option in (
        click.option("--job", "jobs", multiple=True, help="A job to do in any case; may be given again."),
        click.option("--until", type=UNTIL, default="season", show_default=True, help="How far the loss of leaving a fault is counted."),
        click.option("--hands", type=click.IntRange(1, 2), default=1, show_default=True, help="People at work."),
        click.option("--practised", is_flag=True, help="Count the minutes of a practised hand."),
        click.option("--extras", is_flag=True, help="Do what is worth renewing while it is open, too."),
    ):
        command = option(command)
    return command


@click.command()
@click.argument("case")
@planning
@json_option
@on_a_boat
@width_option
def plan(case: str, as_json: bool, width: int | None, **how: Any) -> None:
    """Turn the faults of a case into one job: what to order, the sequence, how long, and what proves it.

    CASE is a file, the name of a shipped case, or a case of the record. Of one in the record what was learned on the boat is taken
    with it, where that was told; of any other with --own.

    \b
    Example:
        diagnose plan slow-weep
        diagnose plan --hands 2 two-faults
    """
    made, book = _plan(case, on_page=not as_json, **how)
    if as_json:
        click.echo(made.model_dump_json(indent=2))
        return
    from diagnose.show.planpage import plan_page

    out = console(width)
    plan_page(made, book, out.width).write(out)


@click.command()
@click.argument("case")
@planning
@click.option("--csv", "table", type=click.Path(dir_okay=False, path_type=Path), default=None,
              help="Write the list as a table to this file.")
@json_option
@on_a_boat
@width_option
def parts(case: str, table: Path | None, as_json: bool, width: int | None, **how: Any) -> None:
    """List what to buy for the plan of a case, what is aboard, and what to settle before ordering.

    CASE is a file, the name of a shipped case, or a case of the record.

    \b
    Example:
        diagnose parts slow-weep
    """
    made, book = _plan(case, on_page=not as_json, **how)
    if table is not None:
        from diagnose.work.orders import to_csv

        try:
            table.write_text(to_csv(made.order), encoding="utf-8", newline="")
        except OSError as error:
            raise InputError("cannot be written", where=str(table), right=str(error.strerror)) from error
    if as_json:
        click.echo(made.order.model_dump_json(indent=2))
        return
    from diagnose.show.orderpage import order_page

    out = console(width)
    order_page(made.order, book, made.boat, out.width).write(out)


@click.command()
@click.argument("what")
@click.option("--case", "case", default=None, help="The case whose boat, parts aboard and chances count.")
@json_option
@on_a_boat
@width_option
def ways(what: str, case: str | None, as_json: bool, width: int | None, own: Path | None, path: Path | None,
         rules_folder: Path | None) -> None:
    """Compare the ways to one end: for a FAULT or a job of the book, or for what is likely in a CASE.

    \b
    Example:
        diagnose ways coolant-pump-seal-worn
    """
    from diagnose.show.workpages import ways_page
    from diagnose.work.ways import ends_of, ways_of_case
    from diagnose.work.ways import ways as ways_

    book = _book(rules_folder)
    name = book.now_called(what)
    if name in book.faults or name in book.jobs or name in ends_of(book):
        found = [ways_(_ground(case, book, own, path, on_page=not as_json), name)]
    else:
        found = list(ways_of_case(_ground(what, book, own, path, on_page=not as_json)))
    if as_json:
        click.echo(_array(found))
        return
    out = console(width)
    ways_page(found, book, out.width).write(out)


@click.command()
@click.argument("case")
@planning
@json_option
@on_a_boat
@width_option
def also(case: str, as_json: bool, width: int | None, **how: Any) -> None:
    """Say what else to look at or renew while the job of a case lies open, with the numbers.

    CASE is a file, the name of a shipped case, or a case of the record.

    \b
    Example:
        diagnose also two-faults
    """
    made, book = _plan(case, on_page=not as_json, **how)
    if as_json:
        click.echo(made.opened.model_dump_json(indent=2))
        return
    from diagnose.show.workpages import also_page

    out = console(width)
    also_page(made.opened, made.jobs, book, out.width).write(out)


@click.command()
@click.argument("case")
@click.argument("fault")
@json_option
@on_a_boat
@width_option
def wait(case: str, fault: str, as_json: bool, width: int | None, own: Path | None, path: Path | None, rules_folder: Path | None) -> None:
    """Say whether a fault can wait: cured now, at the next port or at the season's end, with what may happen until then.

    CASE is a file, the name of a shipped case, or a case of the record.

    \b
    Example:
        diagnose wait slow-weep coolant-pump-seal-worn
    """
    from diagnose.show.workpages import wait_page
    from diagnose.work.wait import can_wait

    book = _book(rules_folder)
    name = fault_named(fault, book)
    found = can_wait(_ground(case, book, own, path, on_page=not as_json, also=(name,)), name)
    if as_json:
        click.echo(found.model_dump_json(indent=2))
        return
    out = console(width)
    wait_page(found, out.width).write(out)


def _book(folder: Path | None) -> Book:
    from diagnose.knowledge.load import load_rules

    return load_rules(folder)


def _plan(case: str, *, on_page: bool, own: Path | None, path: Path | None, rules_folder: Path | None, until: Any, hands: int,
          practised: bool, extras: bool, jobs: tuple[str, ...]) -> tuple[Plan, Book]:
    """The plan of a case, and the book it was made with: the case is judged with the rules as they are, and planned as on this boat."""
    from diagnose.work.plan import plan as plan_

    book = _book(rules_folder)
    told = told_case(case, book, path, next_check=False)
    planned = planning_book(told, own, book, on_page=on_page)
    return plan_(told.assessment, told.case, planned, until=until, hands=hands, hand="skilled" if practised else "first_time", jobs=jobs,
                 extras=extras), planned


def _ground(case: str | None, book: Book, own: Path | None, path: Path | None, *, on_page: bool, also: tuple[str, ...] = ()) -> Ground:
    """A case's ground, its work as on its boat; without a case that of any boat at a routine look."""
    from diagnose.case import Case
    from diagnose.triage import assess
    from diagnose.work.ground import Ground

    if case is not None:
        told = told_case(case, book, path, next_check=False, also=also)
        return Ground.of(told.assessment, told.case, planning_book(told, own, book, on_page=on_page))
    read = Case(opened_because="routine-look")
    planned, file = book_for(None, own, None, book)
    say_learned(None, file, on_page=on_page)
    return Ground.of(assess(read, book, next_check=False, ledger=False), read, planned)


def _array(found: list[Any]) -> str:
    import json

    return json.dumps([one.model_dump(mode="json") for one in found], indent=2, ensure_ascii=False)
