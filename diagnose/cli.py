"""The commands. Each calls the library and shows what it returns; nothing is decided here."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
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
    worst, failed = 0, False
    with _progress(len(cases)) as step:
        for name in cases:
            try:
                assessment = _judge(name, book, engine=engine, next_check=next_check and as_json, ledger=as_json)
            except DiagnoseError as error:
                _say(error, about=name)
                failed = True
            else:
                click.echo(assessment.model_dump_json() if as_json else _one_line(name, assessment))
                worst = max(worst, GATE[assessment.decision])
            step()
    return 2 if failed else worst if gate else 0


@contextmanager
def _progress(count: int) -> Iterator[Callable[[], None]]:
    """A bar on a terminal's stderr, moved on by calling what it gives."""
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        task = progress.add_task("cases", total=count)
        yield lambda: progress.advance(task)


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


@main.command("look-over")
@click.argument("case", required=False)
@_rules_option
@_width_option
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
    found = assess(Case(opened_because="routine-look"), book, **lean) if case is None else _judge(case, book, **lean)
    console = _console(width)
    look_over_page(found.look_over, book, "any boat" if case is None else found.boat, console.width).write(console)


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


@rules.command("coverage")
@click.option("--first", is_flag=True, help="Where each fault begins, not where it ends.")
@click.option("--quick", is_flag=True, help="By looks of a quarter of an hour that spoil nothing, not by all.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures and groups as JSON.")
@_rules_option
@_width_option
def rules_coverage(first: bool, quick: bool, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
    """Say which faults no look shows, which no look parts, and what the statements rest on.

    \b
    Example:
        diagnose rules coverage
    """
    import dataclasses
    import json
    from typing import get_args

    from diagnose.coverage import Looks, Stage, coverage_of
    from diagnose.knowledge.load import load_rules
    from diagnose.show.coveragepage import coverage_page

    book = load_rules(rules_folder)
    asked: tuple[Stage, Looks] = ("first" if first else "last", "quick" if quick else "all")
    if as_json:
        click.echo(json.dumps(dataclasses.asdict(coverage_of(book, *asked)), indent=2))
        return
    every = [coverage_of(book, stage, looks) for stage in get_args(Stage) for looks in get_args(Looks)]
    chosen = next(c for c in every if (c.stage, c.looks) == asked)
    console = _console(width)
    coverage_page(every, chosen, book, console.width).write(console)


@rules.command("compare")
@click.argument("old")
@click.argument("new", required=False)
@click.option("--cases", "folders", multiple=True, type=click.Path(path_type=Path, exists=True, file_okay=False),
              help="A folder of cases to judge under both (may be given again); the shipped ones by default.")
@click.option("--no-why", is_flag=True, help="Do not look for the entry behind each move: faster.")
@click.option("--json", "as_json", is_flag=True, help="Print the comparison as JSON.")
@_width_option
def rules_compare(old: str, new: str | None, folders: tuple[Path, ...], no_why: bool, as_json: bool, width: int | None) -> int:
    """Say what differs between two versions of the rules, and which cases move because of it.

    OLD and NEW are folders of rules, or revisions in a git clone; NEW is the shipped rules if left out. The exit
    status is 3 when the version of NEW is lower than its changes ask for.

    \b
    Example:
        diagnose rules compare rules rules
    """
    import dataclasses
    import json

    from diagnose.case import load_case
    from diagnose.compare import compare
    from diagnose.knowledge.load import load_rules, shipped
    from diagnose.knowledge.revision import rules_named
    from diagnose.show.comparepage import compare_page

    paths = [path for folder in folders or (shipped("cases"),) for path in sorted(folder.rglob("*.yaml"))]
    before, after = rules_named(old), load_rules() if new is None else rules_named(new)
    with _progress(len(paths)) as step:
        found = compare(before, after, {path.stem: load_case(path) for path in paths}, explain=not no_why, step=step)
    if as_json:
        click.echo(json.dumps(dataclasses.asdict(found), indent=2))
    else:
        console = _console(width)
        compare_page(found, console.width).write(console)
    return GATE["go with limits"] if found.too_low else 0


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
