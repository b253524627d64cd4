"""The commands. Each calls the library and shows what it returns; nothing is decided here."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose import __version__
from diagnose.errors import DiagnoseError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from diagnose.assessment import Assessment
    from diagnose.knowledge.book import Book

GATE = {"go": 0, "go with limits": 3, "fix, then go": 4, "stay": 5}
"""Exit status of --gate by decision. 2 is an error, 1 is never used."""
WIDTHS = (60, 120)

_rules_option = click.option("--rules", "rules_folder", type=click.Path(path_type=Path), default=None,
                             help="A folder of rules to use instead of the shipped one.")
_engine_option = click.option("--engine", type=click.Choice(["durable-rules", "plain"]), default=None,
                              help="Which forward chainer; the results are the same.")
_width_option = click.option("--width", type=click.IntRange(40, 200), default=None, help="Columns of the page.")


class _Commands(click.Group):
    """Commands that turn our errors into a message and exit status 2, and suggest a name that was mistyped."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        kwargs["standalone_mode"] = False
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")  # a terminal of few letters shows a mark for the others
        try:
            result = super().main(*args, **kwargs)
            sys.exit(result if isinstance(result, int) else 0)
        except click.exceptions.Abort:
            sys.exit(130)
        except click.ClickException as error:
            error.show()
            sys.exit(2)
        except DiagnoseError as error:
            _say(error)
            sys.exit(2)
        except BrokenPipeError:
            sys.stderr.close()
            sys.exit(0)

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from diagnose.knowledge.text import did_you_mean

            near = did_you_mean(args[0], self.list_commands(ctx))
            raise click.UsageError(f"no command '{args[0]}'" + (f"; did you mean {near}?" if near else ""), ctx) from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="diagnose", message="%(prog)s %(version)s")
def main() -> None:
    """Say what is most likely wrong with a small inboard diesel, whether she may leave, and what to look at next.

    \b
    Example:
        diagnose triage slow-weep
    """


@main.command()
@click.argument("cases", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print the whole assessment as JSON (one line each for several cases).")
@click.option("--gate", is_flag=True, help="Exit 0 for go, 3 go with limits, 4 fix, then go, 5 stay (2 is an error).")
@click.option("--no-next", is_flag=True, help="Leave out the looks worth making: faster for many cases.")
@_rules_option
@_engine_option
@_width_option
def triage(cases: tuple[str, ...], as_json: bool, gate: bool, no_next: bool, rules_folder: Path | None, engine: Any,
           width: int | None) -> int:
    """Judge one case, or several with one line each.

    CASE is a file, or the name of a shipped case.

    \b
    Example:
        diagnose triage slow-weep
        diagnose triage --json cases/slow-weep.yaml
    """
    from diagnose.knowledge.load import load_rules

    book = load_rules(rules_folder)
    if len(cases) > 1:
        return _many(cases, book, as_json, gate, engine, not no_next)
    assessment = _judge(cases[0], book, engine=engine, next_check=not no_next)
    if as_json:
        click.echo(assessment.model_dump_json(indent=2))
    else:
        from diagnose.show.page import triage_page

        console = _console(width)
        triage_page(assessment, book, console.width).write(console)
    return GATE[assessment.decision] if gate else 0


def _many(cases: tuple[str, ...], book: Book, as_json: bool, gate: bool, engine: Any, next_check: bool) -> int:
    from rich.console import Console
    from rich.progress import Progress


    worst, failed = 0, False
    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        task = progress.add_task("cases", total=len(cases))
        for name in cases:
            try:
                assessment = _judge(name, book, engine=engine, next_check=next_check and as_json, ledger=as_json)
            except DiagnoseError as error:
                _say(error, about=name)
                failed = True
            else:
                click.echo(assessment.model_dump_json() if as_json else _one_line(name, assessment))
                worst = max(worst, GATE[assessment.decision])
            progress.advance(task)
    return 2 if failed else worst if gate else 0


def _say(error: DiagnoseError, about: str = "") -> None:
    """The message on stderr, with the case it is about where there are several; what it quotes is shown, not obeyed."""
    from diagnose.show.words import literal

    named = f"{about}: " if about and about not in error.where else ""
    click.echo("\n".join(literal(line) for line in f"diagnose: {named}{error}".split("\n")), err=True)


def _judge(name: str, book: Book, **how: Any) -> Assessment:
    """Read and assess one case; an error in it says in which file."""
    from diagnose.case import load_case
    from diagnose.triage import assess

    path = case_path(name)
    case = load_case(path)
    try:
        return assess(case, book, **how)
    except DiagnoseError as error:
        error.where = f"{path}: {error.where}" if error.where else str(path)
        raise


def _one_line(name: str, a: Assessment) -> str:
    from diagnose.show.page import spoken_for, title_of
    from diagnose.show.words import in_hundred, literal, plural

    word, _ = title_of(a)
    first = a.ranking[0]
    known = spoken_for(first) or not first.stages
    what = f"{in_hundred(first.probability):>7} {first.title}" if known else "        nothing points at a fault"
    holds = f"; {plural(len(a.holds), 'stop')}" if a.holds else ""
    return literal(f"{Path(name).stem:<32} {word:<19}{what}{holds}")


@main.command()
@click.argument("case")
@click.argument("fault")
@click.option("--numbers", is_flag=True, help="Show decibans beside the strokes.")
@_rules_option
@_width_option
def explain(case: str, fault: str, numbers: bool, rules_folder: Path | None, width: int | None) -> None:
    """Say why a fault stands where it stands: for, against, rules fired, what would settle it.

    \b
    Example:
        diagnose explain slow-weep coolant-pump-seal-worn
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.knowledge.text import did_you_mean
    from diagnose.show.explain import explain_page

    book = load_rules(rules_folder)
    name = book.renamed.get(fault, fault)
    if name not in book.faults:
        raise InputError(f"fault '{fault}' is not in the book", right=did_you_mean(fault, list(book.faults)))
    assessment = _judge(case, book, also=(name,))
    line = next((r for r in assessment.ranking if r.fault == name), None)
    if line is None:
        raise InputError(f"'{name}' cannot be on this boat as she is described", where=case)
    console = _console(width)
    explain_page(assessment, book, line, console.width, numbers=numbers).write(console)


@main.group()
def rules() -> None:
    """Check and read the rule base."""


@rules.command("check")
@_rules_option
def rules_check(rules_folder: Path | None) -> int:
    """Check every rule file, and run every example in them.

    \b
    Example:
        diagnose rules check
    """
    from diagnose.knowledge.check import check_rules

    report = check_rules(rules_folder)
    for line in report.lines:
        click.echo(line)
    click.echo(report.summary)
    return 2 if report.broken else 0


@rules.command("show")
@click.argument("name")
@_rules_option
@_width_option
def rules_show(name: str, rules_folder: Path | None, width: int | None) -> None:
    """Show one entry of the rule base, with its examples.

    \b
    Example:
        diagnose rules show coolant-pump-weep
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.show.rulepage import rule_page

    console = _console(width)
    rule_page(load_rules(rules_folder), name, console.width).write(console)


@main.command()
@click.argument("what", type=click.Choice(["case", "assessment"]))
@_rules_option
def schema(what: str, rules_folder: Path | None) -> None:
    """Print the JSON Schema of the case file (for editors) or of the assessment.

    \b
    Example:
        diagnose schema case
    """
    import json

    if what == "case":
        from diagnose.case import case_schema
        from diagnose.knowledge.load import load_rules

        form = case_schema(load_rules(rules_folder))
    else:
        from diagnose.assessment import Assessment

        form = Assessment.model_json_schema()
    click.echo(json.dumps(form, indent=2, ensure_ascii=False))


def case_path(name: str) -> Path:
    """The file named, or the shipped case of that name.

    Raises:
        InputError: neither exists, with the nearest shipped name.
    """
    from diagnose.knowledge.load import shipped
    from diagnose.knowledge.text import did_you_mean

    path = Path(name)
    if path.exists() or path.suffix:
        return path
    folder = shipped("cases")
    found = folder / f"{name}.yaml"
    if found.is_file():
        return found
    known = sorted(p.stem for p in folder.glob("*.yaml"))
    raise InputError("is neither a file nor a shipped case", where=name, right=did_you_mean(name, known) or ", ".join(known))


def _console(width: int | None) -> Console:
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False, soft_wrap=False)
    console.width = width or min(max(console.width, WIDTHS[0]), WIDTHS[1])
    return console
