"""The commands that look ahead: how one thing moves over the hours, and what is due."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from diagnose.commands.common import console, rules_option, width_option
from diagnose.commands.recordfile import record_option
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.record.outlook import Outlook

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
replace_option = click.option("--replace", is_flag=True, help="Write over a file of the same name.")


@click.command()
@click.argument("boat")
@click.argument("symptom", required=False)
@click.option("--by", type=click.Choice(["hours", "date"]), default=None,
              help="Against engine hours or the date; by default hours, where all looks have them.")
@click.option("--state", default=None, help="Only looks in this engine state: cold-stopped, warm-stopped, idle or under-load.")
@click.option("--through-services", is_flag=True, help="Draw one line through looks before and after the part was renewed, too.")
@click.option("--svg", type=click.Path(path_type=Path), default=None, help="Also write the drawing into this file.")
@replace_option
@json_option
@record_option
@rules_option
@width_option
def trend(boat: str, symptom: str | None, by: Literal["hours", "date"] | None, state: str | None, through_services: bool,
          svg: Path | None, replace: bool, as_json: bool, path: Path | None, rules_folder: Path | None, width: int | None) -> None:
    """Show where one symptom or reading of a boat is going, and when it meets its next limit.

    Without SYMPTOM, list what was looked at on her. Each engine state is told by itself.

    \b
    Example:
        diagnose trend Brindle gauge-temperature-high --svg gauge.svg
    """
    from diagnose.commands.recordfile import opened
    from diagnose.knowledge.load import load_rules
    from diagnose.record.hourlog import hour_log
    from diagnose.record.outlook import outlook
    from diagnose.record.series import all_series, series_of
    from diagnose.show.trendpage import trend_page

    book = load_rules(rules_folder)
    with opened(path, reading=True) as record:
        name = record.boat_named(boat)
        log = hour_log(record, name, book)
        every = all_series(record, name, book, log) if symptom is None else series_of(record, name, symptom, book, log)
    if symptom is None:
        _list([s for s in every if s.looks], name, as_json, width)
        return
    if state is not None:
        every = tuple(s for s in every if s.state == state) or _no_state(state, [s.state or "not said" for s in every])
    views = [outlook(series, log, by=by, whole=through_services) for series in every]
    if svg is not None:
        _draw(views, svg, replace)
    if as_json:
        import json

        from diagnose.show.trenddata import trend_data

        click.echo(json.dumps([trend_data(view) for view in views], indent=2, ensure_ascii=False))
        return
    out = console(width)
    trend_page(views, out.width).write(out)
    if svg is not None:
        _say(f"written: {svg}")


def _list(every: list[Any], name: str, as_json: bool, width: int | None) -> None:
    if as_json:
        import json

        click.echo(json.dumps([{"symptom": s.scale.id, "state": s.state, "looks": len(s.looks)} for s in every], indent=2))
        return
    from diagnose.show.trendpage import known_page

    out = console(width)
    known_page(name, every, out.width).write(out)


def _no_state(state: str, known: list[str]) -> Any:
    raise InputError(f"no look was made with the engine {state}", where="--state", right=" or ".join(known))


def _draw(views: list[Outlook], svg: Path, replace: bool) -> None:
    """Write the drawing of the only series, or of the longest; where there are several that is said."""
    from diagnose.show.trendsvg import trend_svg

    _write(svg, trend_svg(views[0]), replace)
    if len(views) > 1:
        states = ", ".join(view.series.state or "not said" for view in views)
        click.echo(f"diagnose: looks were made in several engine states ({states}): the first is drawn; --state chooses", err=True)


@click.command()
@click.argument("boat", required=False)
@click.option("--calendar", type=click.Path(path_type=Path), default=None, help="Also write it into this file, for a calendar (iCalendar).")
@replace_option
@json_option
@record_option
@rules_option
@width_option
def due(boat: str | None, calendar: Path | None, replace: bool, as_json: bool, path: Path | None, rules_folder: Path | None,
        width: int | None) -> None:
    """List what is due on a boat: by engine hours, by date, by a trend, or as the proof of work done, each with the
    reason.

    Without BOAT it is the one boat of the record.

    \b
    Example:
        diagnose due Brindle --calendar brindle.ics
    """
    from diagnose.commands.recordfile import only_boat, opened
    from diagnose.doing.owing import with_tests
    from diagnose.knowledge.load import load_rules
    from diagnose.record.due import due as what_is_due
    from diagnose.show.duepage import due_page

    book = load_rules(rules_folder)
    with opened(path, reading=True) as record:
        found = what_is_due(record, record.boat_named(boat) if boat is not None else only_boat(record.boats()), book)
        found = with_tests(found, record, book)
        entries = record.entries(boat=found.boat)
    if calendar is not None:
        from diagnose.record.calendar import calendar_of

        if found.items:
            _write(calendar, calendar_of(found, entries[0].hash, entries[-1].id), replace)
        elif not as_json:
            _say("nothing is due, and no calendar was written")
    if as_json:
        import json

        from diagnose.show.trenddata import due_data

        click.echo(json.dumps(due_data(found), indent=2, ensure_ascii=False))
        return
    out = console(width)
    due_page(found, book, out.width).write(out)
    if calendar is not None and found.items:
        _say(f"written: {calendar}")


def _write(target: Path, text: str, replace: bool) -> None:
    """Write a file, whole or not at all.

    Raises:
        InputError: it is there already, or cannot be written.
    """
    from diagnose.record.exchange import write_whole

    if target.is_dir():
        raise InputError("is a folder", where=str(target), right="the name of a file in it")
    if not replace and (target.exists() or target.is_symlink()):
        raise InputError("is there already", where=str(target), right="another name, or --replace to write over it")
    try:
        write_whole(target, text.encode("utf-8"))
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(target), right="a folder that can be written to") from None


def _say(text: str) -> None:
    from diagnose.show.words import literal

    click.echo(literal(text))
