"""Commands for the job: the plan, the parts, the ways, what to renew while it is open, and whether it can wait."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import case_path, console, fault_named, judged, rules_option, width_option
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.knowledge.book import Book
    from diagnose.work.ground import Ground
    from diagnose.work.results import Plan

UNTIL = click.Choice(["trip", "port", "season"])
json_option = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")


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
@rules_option
@width_option
def plan(case: str, as_json: bool, rules_folder: Path | None, width: int | None, **how: Any) -> None:
    """Turn the faults of a case into one job: what to order, the sequence, how long, and what proves it.

    CASE is a file, or the name of a shipped case.

    \b
    Example:
        diagnose plan slow-weep
        diagnose plan --hands 2 two-faults
    """
    book = _book(rules_folder)
    made = _plan(case, book, **how)
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
@rules_option
@width_option
def parts(case: str, table: Path | None, as_json: bool, rules_folder: Path | None, width: int | None, **how: Any) -> None:
    """List what to buy for the plan of a case, what is aboard, and what to settle before ordering.

    \b
    Example:
        diagnose parts slow-weep
    """
    book = _book(rules_folder)
    made = _plan(case, book, **how)
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
@rules_option
@width_option
def ways(what: str, case: str | None, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
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
        found = [ways_(_ground(case, book), name)]
    else:
        case_path(what)
        found = list(ways_of_case(_ground(what, book)))
    if as_json:
        click.echo(_array(found))
        return
    out = console(width)
    ways_page(found, book, out.width).write(out)


@click.command()
@click.argument("case")
@planning
@json_option
@rules_option
@width_option
def also(case: str, as_json: bool, rules_folder: Path | None, width: int | None, **how: Any) -> None:
    """Say what else to look at or renew while the job of a case lies open, with the numbers.

    \b
    Example:
        diagnose also two-faults
    """
    book = _book(rules_folder)
    made = _plan(case, book, **how)
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
@rules_option
@width_option
def wait(case: str, fault: str, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
    """Say whether a fault can wait: cured now, at the next port or at the season's end, with what may happen until then.

    \b
    Example:
        diagnose wait slow-weep coolant-pump-seal-worn
    """
    from diagnose.show.workpages import wait_page
    from diagnose.work.wait import can_wait

    book = _book(rules_folder)
    name = fault_named(fault, book)
    found = can_wait(_ground(case, book, also=(name,)), name)
    if as_json:
        click.echo(found.model_dump_json(indent=2))
        return
    out = console(width)
    wait_page(found, out.width).write(out)


def _book(folder: Path | None) -> Book:
    from diagnose.knowledge.load import load_rules

    return load_rules(folder)


def _plan(case: str, book: Book, *, until: Any, hands: int, practised: bool, extras: bool, jobs: tuple[str, ...]) -> Plan:
    from diagnose.work.plan import plan as plan_

    read, assessment = judged(case, book, next_check=False)
    return plan_(assessment, read, book, until=until, hands=hands, hand="skilled" if practised else "first_time", jobs=jobs, extras=extras)


def _ground(case: str | None, book: Book, also: tuple[str, ...] = ()) -> Ground:
    """A case's ground; without a case that of any boat at a routine look."""
    from diagnose.case import Case
    from diagnose.triage import assess
    from diagnose.work.ground import Ground

    if case is not None:
        read, assessment = judged(case, book, next_check=False, also=also)
    else:
        read = Case(opened_because="routine-look")
        assessment = assess(read, book, next_check=False, ledger=False)
    return Ground.of(assessment, read, book)


def _array(found: list[Any]) -> str:
    import json

    return json.dumps([one.model_dump(mode="json") for one in found], indent=2, ensure_ascii=False)
