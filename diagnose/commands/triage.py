"""Commands that judge a case: triage, explain, look-over, and the schemas of what goes in and comes out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import GATE, console, engine_option, fault_named, judge, progress, rules_option, say, width_option
from diagnose.commands.recordfile import opened, record_option
from diagnose.commands.told import told_case
from diagnose.errors import DiagnoseError, InputError

if TYPE_CHECKING:
    from diagnose.assessment import Assessment
    from diagnose.knowledge.book import Book


@click.command()
@click.argument("cases", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print the whole assessment as JSON (one line each for several cases).")
@click.option("--gate", is_flag=True, help="Exit 0 for go, 3 go with limits, 4 fix, then go, 5 stay (2 is an error).")
@click.option("--no-next", is_flag=True, help="Leave out the looks worth making: faster for many cases.")
@click.option("--save", is_flag=True, help="Keep the case and its assessment in the record.")
@record_option
@rules_option
@engine_option
@width_option
def triage(cases: tuple[str, ...], as_json: bool, gate: bool, no_next: bool, save: bool, path: Path | None, rules_folder: Path | None,
           engine: Any, width: int | None) -> int:
    """Judge one case, or several with one line each.

    CASE is a file, the name of a shipped case, or one case of the record.

    \b
    Example:
        diagnose triage slow-weep
        diagnose triage --json cases/slow-weep.yaml
    """
    from diagnose.knowledge.load import load_rules

    book = load_rules(rules_folder)
    if save and len(cases) > 1:
        raise InputError("--save keeps one case at a time", right="one CASE")
    if len(cases) > 1:
        return _many(cases, book, as_json, gate, engine, not no_next)
    told = told_case(cases[0], book, None if save else path, engine=engine, next_check=not no_next)
    case, assessment = told.case, told.assessment
    if save and told.record is not None:
        raise InputError("is a case of the record already", where=told.name, right=f"diagnose resume {told.name}, to go on with it")
    if save:
        from diagnose.record.keep import keep_case

        with opened(path, create=True) as record:
            kept = keep_case(record, case, assessment, next_check=not no_next)
        click.echo(f"kept as {kept.case} of {kept.boat}" + ("" if kept.new else ", where it was already"), err=True)
    if as_json:
        click.echo(assessment.model_dump_json(indent=2))
    else:
        from diagnose.show.page import triage_page

        out = console(width)
        triage_page(assessment, book, out.width).write(out)
    return GATE[assessment.decision] if gate else 0


def _many(cases: tuple[str, ...], book: Book, as_json: bool, gate: bool, engine: Any, next_check: bool) -> int:
    worst, failed = 0, False
    with progress(len(cases)) as step:
        for name in cases:
            try:
                assessment = judge(name, book, engine=engine, next_check=next_check and as_json, ledger=as_json)
            except DiagnoseError as error:
                say(error, about=name)
                failed = True
            else:
                click.echo(assessment.model_dump_json() if as_json else _one_line(name, assessment))
                worst = max(worst, GATE[assessment.decision])
            step()
    return 2 if failed else worst if gate else 0


def _one_line(name: str, a: Assessment) -> str:
    from diagnose.show.page import spoken_for, title_of
    from diagnose.show.words import in_hundred, literal, plural

    word, _ = title_of(a)
    first = a.ranking[0]
    known = spoken_for(first) or not first.stages
    what = f"{in_hundred(first.probability):>7} {first.title}" if known else "        nothing points at a fault"
    holds = f"; {plural(len(a.holds), 'stop')}" if a.holds else ""
    return literal(f"{Path(name).stem:<32} {word:<19}{what}{holds}")


@click.command()
@click.argument("case")
@click.argument("fault")
@click.option("--numbers", is_flag=True, help="Show decibans beside the strokes.")
@rules_option
@width_option
def explain(case: str, fault: str, numbers: bool, rules_folder: Path | None, width: int | None) -> None:
    """Say why a fault stands where it stands: for, against, rules fired, what would settle it.

    \b
    Example:
        diagnose explain slow-weep coolant-pump-seal-worn
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.show.explain import explain_page

    book = load_rules(rules_folder)
    name = fault_named(fault, book)
    assessment = judge(case, book, also=(name,))
    line = next((r for r in assessment.ranking if r.fault == name), None)
    if line is None:
        raise InputError(f"'{name}' cannot be on this boat as she is described", where=case)
    out = console(width)
    explain_page(assessment, book, line, out.width, numbers=numbers).write(out)


@click.command("look-over")
@click.argument("case", required=False)
@rules_option
@width_option
def look_over_(case: str | None, rules_folder: Path | None, width: int | None) -> None:
    """List the looks to make before departure on the boat of a case, with those made marked; without one, on any boat.

    \b
    Example:
        diagnose look-over slow-weep
    """
    from diagnose.case import Case
    from diagnose.knowledge.load import load_rules
    from diagnose.show.lookoverpage import look_over_page
    from diagnose.triage import assess

    book = load_rules(rules_folder)
    lean: dict[str, Any] = {"next_check": False, "ledger": False}
    found = assess(Case(opened_because="routine-look"), book, **lean) if case is None else judge(case, book, **lean)
    out = console(width)
    look_over_page(found.look_over, book, "any boat" if case is None else found.boat, out.width).write(out)


@click.command()
@click.argument("what", type=click.Choice(["case", "assessment", "own"]))
@rules_option
def schema(what: str, rules_folder: Path | None) -> None:
    """Print the JSON Schema of the case file or of a boat's own file (for editors), or of the assessment.

    \b
    Example:
        diagnose schema case
    """
    import json

    if what == "assessment":
        from diagnose.assessment import Assessment

        form = Assessment.model_json_schema()
    else:
        from diagnose.case import case_schema
        from diagnose.knowledge.load import load_rules
        from diagnose.knowledge.own import own_schema

        form = (case_schema if what == "case" else own_schema)(load_rules(rules_folder))
    click.echo(json.dumps(form, indent=2, ensure_ascii=False))
