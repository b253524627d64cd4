"""Commands on the rule base: check, show, coverage, compare."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.commands.common import GATE, console, progress, rules_option, width_option


@click.group()
def rules() -> None:
    """Check and read the rule base."""


@rules.command("check")
@rules_option
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
@rules_option
@width_option
def rules_show(name: str, rules_folder: Path | None, width: int | None) -> None:
    """Show one entry of the rule base, with its examples.

    \b
    Example:
        diagnose rules show coolant-pump-weep
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.show.rulepage import rule_page

    out = console(width)
    rule_page(load_rules(rules_folder), name, out.width).write(out)


@rules.command("coverage")
@click.option("--first", is_flag=True, help="Where each fault begins, not where it ends.")
@click.option("--quick", is_flag=True, help="By looks of a quarter of an hour that spoil nothing, not by all.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures and groups as JSON.")
@rules_option
@width_option
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
    out = console(width)
    coverage_page(every, chosen, book, out.width).write(out)


@rules.command("compare")
@click.argument("old")
@click.argument("new", required=False)
@click.option("--cases", "folders", multiple=True, type=click.Path(path_type=Path, exists=True, file_okay=False),
              help="A folder of cases to judge under both (may be given again); the shipped ones by default.")
@click.option("--no-why", is_flag=True, help="Do not look for the entry behind each move: faster.")
@click.option("--json", "as_json", is_flag=True, help="Print the comparison as JSON.")
@width_option
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
    with progress(len(paths)) as step:
        found = compare(before, after, {path.stem: load_case(path) for path in paths}, explain=not no_why, step=step)
    if as_json:
        click.echo(json.dumps(dataclasses.asdict(found), indent=2))
    else:
        out = console(width)
        compare_page(found, out.width).write(out)
    return GATE["go with limits"] if found.too_low else 0
