"""Commands that keep the record: the boats, their hours and services, the cases, what was found, and the record itself as files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import GATE, console, progress, rules_option, width_option
from diagnose.commands.recordfile import by_option, parse_hours, parse_when, record_option, say_overtaken
from diagnose.commands.recordfile import say as _say
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.record.store import Record

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
note_option = click.option("--note", default=None, help="Anything worth keeping beside it.")
at_option = click.option("--at", "at", default=None, help="When, if not now: a date, or a date and a time.")


@click.command()
@click.argument("name", required=False)
@click.argument("facts", nargs=-1)
@click.option("--hours", default=None, help="Her engine hours now.")
@click.option("--forget", multiple=True, help="A fact that is not known after all (may be given again).")
@by_option
@note_option
@json_option
@record_option
@rules_option
@width_option
def boat(name: str | None, facts: tuple[str, ...], hours: str | None, forget: tuple[str, ...], by: str | None, note: str | None,
         as_json: bool, path: Path | None, rules_folder: Path | None, width: int | None) -> None:
    """Show a boat, or enter facts of her: FACT=VALUE, as in a case file. Without a name, list the boats.

    Only what the engine and her gear are like: facts not said are assumed, and said to be assumed, when a case is judged.

    \b
    Example:
        diagnose boat Brindle cooling=heat-exchanger coolant-pump-drive=belt --hours 1412
    """
    from diagnose.commands.recordwork import enter_boat, show_boat, show_record

    if name is None:
        show_record(path, None, as_json, width)
        return
    if facts or hours or forget or note:
        enter_boat(path, name, facts, hours, forget, by, note, rules_folder)
    show_boat(path, name, as_json, rules_folder, width)


@click.command()
@click.argument("boat")
@click.argument("engine_hours")
@click.option("--correct", is_flag=True, help="Take back the last reading and put this in its place.")
@at_option
@by_option
@note_option
@record_option
def hours(boat: str, engine_hours: str, correct: bool, at: str | None, by: str | None, note: str | None, path: Path | None) -> None:
    """Enter the engine hours of a boat. After a new meter, add the hours of the old one by hand.

    \b
    Example:
        diagnose hours Brindle 1418
    """
    from diagnose.commands.recordfile import opened
    from diagnose.record.entries import TakenBack, from_plain
    from diagnose.record.fold import latest_reading

    with opened(path) as record:
        name, value, when = record.boat_named(boat), parse_hours(engine_hours), parse_when(at)
        last = latest_reading(record, name)
        if last is not None and not correct and last.refuses(value, when):
            raise InputError(f"{value:g} engine hours are fewer than the {last.hours:g} read before", where=name,
                             right="--correct if the last reading was wrong, or --at with the day it was read")
        with record.writing():
            if correct and last is not None:
                record.append(TakenBack(entry=last.entry, reason="corrected", by=by), boat=name, case=last.case)
            stored = record.append(from_plain({"kind": "hours", "engine_hours": value, "at": when, "by": by, "note": note}), boat=name)
        say_overtaken(record, stored)
    run = value - last.hours if last is not None and not correct else 0.0
    _say(f"{name}: {value:g} engine hours{f', {run:g} since the last reading' if run > 0 else ''}")
    if last is not None and not correct and last.outruns(value, when):
        _say("That is more than the clock allows: if the reading before was of an earlier day, enter it with --at.")


@click.command()
@click.argument("boat")
@click.argument("item")
@click.option("--hours", "at_hours", default=None, help="Engine hours when it was done.")
@click.option("--on", "on", type=click.DateTime(["%Y-%m-%d"]), default=None, help="The day it was done; today if neither is given.")
@click.option("--cost", default=None, help="What it cost, such as '42.50 EUR'.")
@by_option
@note_option
@record_option
@rules_option
def service(boat: str, item: str, at_hours: str | None, on: Any, cost: str | None, by: str | None, note: str | None, path: Path | None,
            rules_folder: Path | None) -> None:
    """Enter a service, or a part fitted: a service item of the book, or a part in your own words.

    A service item tells the book how long the part has run; your own words are kept as they are.

    \b
    Example:
        diagnose service Brindle drive-belt --hours 1412 --cost "18.90 EUR" --note "old one glazed"
    """
    from diagnose.commands.recordfile import opened
    from diagnose.knowledge.load import load_rules
    from diagnose.record.entries import from_plain, moment

    book = load_rules(rules_folder)
    known = item in book.words.service_items
    with opened(path) as record:
        name = record.boat_named(boat)
        done = on.date() if on is not None else moment().astimezone().date() if at_hours is None else None
        told = {"kind": "service", "item" if known else "part": item, "by": by, "note": note, "cost": cost, "on": done,
                "hours": parse_hours(at_hours) if at_hours is not None else None}
        say_overtaken(record, record.append(from_plain({k: v for k, v in told.items() if v is not None}), boat=name))
    _say(f"{name}: {book.words.service_items.get(item, item)}")
    if not known:
        from diagnose.knowledge.text import did_you_mean

        near = did_you_mean(item, list(book.words.service_items))
        _say(f"kept in your words: '{item}' is no service item of the book" + (f"; did you mean {near}?" if near else ""))


@click.command("record")
@click.argument("case", required=False)
@click.option("--boat", default=None, help="Only the cases of this boat.")
@json_option
@record_option
@rules_option
@width_option
def record_(case: str | None, boat: str | None, as_json: bool, path: Path | None, rules_folder: Path | None, width: int | None) -> None:
    """Read the record: all boats and cases, or one case in full. A case goes by its id, its number, or how its id begins.

    \b
    Example:
        diagnose record
    """
    from diagnose.commands.recordwork import show_case, show_record

    if case is None:
        show_record(path, boat, as_json, width)
    else:
        show_case(path, case, boat, as_json, rules_folder, width)


@click.command()
@click.argument("case")
@click.argument("faults", nargs=-1)
@click.option("--not-in-book", default=None, help="What it was, if the book does not hold it.")
@click.option("--nothing-wrong", is_flag=True, help="Nothing was wrong.")
@click.option("--likely", is_flag=True, help="It is likely and not certain: kept, but nothing is learned from it.")
@click.option("--cost", default=None, help="What it cost in the end, such as '420 EUR'.")
@click.option("--undo", is_flag=True, help="Take back the last finding of the case.")
@click.option("--across", is_flag=True, help="Show the rates as all boats of the record together would have them.")
@at_option
@by_option
@note_option
@record_option
@rules_option
@width_option
def found(case: str, faults: tuple[str, ...], undo: bool, across: bool, path: Path | None, rules_folder: Path | None, width: int | None,
          **told: Any) -> None:
    """Say what it really was, and see how the rates of this boat move by it.

    A later finding of the same case stands in place of the earlier one.

    \b
    Example:
        diagnose found slow-weep-found-at-a-1 coolant-pump-seal-worn --cost "160 EUR"
    """
    from diagnose.commands.recordwork import take_back_finding, tell_finding

    if undo:
        take_back_finding(path, case, faults, told, across, rules_folder, width)
    else:
        tell_finding(path, case, faults, told, across, rules_folder, width)


@click.command()
@click.option("--boat", default=None, help="Only the cases of this boat.")
@json_option
@record_option
@rules_option
@width_option
def tally(boat: str | None, as_json: bool, path: Path | None, rules_folder: Path | None, width: int | None) -> None:
    """Count how often the first line was right, and set the chances said beside what came true.

    \b
    Example:
        diagnose tally
    """
    import dataclasses
    import json

    from diagnose.commands.recordfile import opened
    from diagnose.knowledge.load import load_rules
    from diagnose.record.tally import tally as counted

    with opened(path, reading=True) as record:
        hers = record.boat_named(boat) if boat is not None else None
        result = counted(record, boat=hers, renamed=load_rules(rules_folder).renamed)
    if as_json:
        click.echo(json.dumps(dataclasses.asdict(result), indent=2, ensure_ascii=False))
        return
    from diagnose.show.tallypage import tally_page

    out = console(width)
    tally_page(result, out.width).write(out)


@click.command()
@click.argument("case", required=False)
@click.option("--every", is_flag=True, help="Every assessment, not only the last of each case.")
@click.option("--then", "then", default=None, help="The rules of then, a folder or a revision of a clone: names the entry behind a move.")
@json_option
@record_option
@rules_option
@width_option
def replay(case: str | None, every: bool, then: str | None, as_json: bool, path: Path | None, rules_folder: Path | None,
           width: int | None) -> int:
    """Make stored assessments again: with the same rules the same bytes, with others what moved.

    The exit status is 3 where a person would be told otherwise, or the bytes are not those they should be.

    \b
    Example:
        diagnose replay
    """
    import dataclasses
    import json

    from diagnose.commands.recordfile import opened
    from diagnose.knowledge.load import load_rules
    from diagnose.knowledge.revision import rules_named
    from diagnose.record.replay import replay as again
    from diagnose.record.replay import stored_assessments
    from diagnose.show.recordpage import titles_of
    from diagnose.show.replaypage import replay_page

    book, old = load_rules(rules_folder), rules_named(then) if then is not None else None
    with opened(path, reading=True) as record:
        stored = stored_assessments(record, record.case_named(case).id if case is not None else None, latest=not every)
    done = []
    with progress(len(stored)) as step:
        for one in stored:
            done.append(again(one, book, then=old))
            step()
    if as_json:
        click.echo(json.dumps([dataclasses.asdict(one) for one in done], indent=2, ensure_ascii=False))
    else:
        out = console(width)
        replay_page(done, titles_of(book), out.width).write(out)
    return GATE["go with limits"] if any(one.grave for one in done) else 0


@click.command("export")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--form", type=click.Choice(["yaml", "csv"]), default="yaml", help="yaml: one file a boat. csv: one file a kind of entry.")
@click.option("--boat", "boats", multiple=True, help="Only this boat (may be given again).")
@click.option("--replace", is_flag=True, help="Write over files of the same names.")
@click.option("--before-damage", is_flag=True, help="Of a damaged record, write what lies before the damage.")
@record_option
def export_(folder: Path, form: Any, boats: tuple[str, ...], replace: bool, before_damage: bool, path: Path | None) -> None:
    """Write the record into files that people and other programs read. Photos are named in them, not copied.

    \b
    Example:
        diagnose export the-record --form csv
    """
    from diagnose.commands.recordfile import opened
    from diagnose.record.exchange import export

    with opened(path, reading=True, salvage=before_damage) as record:
        written = export(record, folder, form, boats=[record.boat_named(b) for b in boats], replace=replace)
        for file in written:
            _say(str(file))
        if record.damage is not None:
            _say(f"the record is damaged: {record.damage}")
        elif not written:
            _say("nothing to write: the record is empty")


@click.command("import")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@record_option
def import_(paths: tuple[Path, ...], path: Path | None) -> None:
    """Add exported files to the record. Nothing there is changed; what is there already is counted and left alone.

    \b
    Example:
        diagnose import the-record
    """
    from diagnose.commands.recordfile import opened
    from diagnose.record.exchange import import_into, read

    lines = read(paths)
    with opened(path, create=True) as record:
        done = import_into(record, lines)
    _say(f"{done.added} added, {done.known} there already")
    for old, new in done.renamed.items():
        _say(f"case {old} is called {new} here")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Write over a backup of the same name.")
@record_option
def backup(file: Path, replace: bool, path: Path | None) -> None:
    """Copy the whole record into one file, and read it back to see that it is whole.

    \b
    Example:
        diagnose backup record-backup.zip
    """
    from diagnose.record.backup import back_up
    from diagnose.record.store import default_path

    made = back_up(path or default_path(), file, replace=replace)
    _say(f"{made.path}: {made.entries} entries, read back and whole (SHA-256 {made.sha256[:16]})")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Put it in the place of the record that is there; that one is kept aside.")
@click.option("--only-check", is_flag=True, help="Only see whether the backup is whole.")
@record_option
def restore(file: Path, replace: bool, only_check: bool, path: Path | None) -> None:
    """Put the record of a backup in its place, once it was found whole.

    \b
    Example:
        diagnose restore record-backup.zip --only-check
    """
    from diagnose.record.backup import check
    from diagnose.record.backup import restore as put_back
    from diagnose.record.store import default_path

    if only_check:
        found_whole = check(file)
        _say(f"{file}: whole, {found_whole.entries} entries, made {found_whole.made:%Y-%m-%d %H:%M} UTC")
        return
    done = put_back(file, path or default_path(), replace=replace)
    _say(f"{done.path}: {done.backup.entries} entries, as of {done.backup.made:%Y-%m-%d %H:%M} UTC")
    if done.aside is not None:
        _say(f"the record that was there is kept as {done.aside}")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--case", default=None, help="The case it belongs to.")
@click.option("--boat", default=None, help="The boat, where it belongs to no case.")
@click.option("--caption", default=None, help="What it shows.")
@click.option("--about", default=None, help="The symptom, check or fault it is about.")
@by_option
@record_option
def photo(file: Path, case: str | None, boat: str | None, caption: str | None, about: str | None, by: str | None,
          path: Path | None) -> None:
    """Note a photo: where it lies, and its checksum, so that another in its place is noticed. It is not copied.

    \b
    Example:
        diagnose photo crust.jpg --boat Brindle --caption "brown crust under the pump"
    """
    from diagnose.commands.recordfile import opened, sha_of

    sha = sha_of(file)
    told = {"kind": "photo", "path": str(file.resolve()), "sha256": sha, "caption": caption, "about": about, "by": by}
    with opened(path) as record:
        _put(record, case, boat, told)
    _say(f"{file}: noted (SHA-256 {sha[:16]})")


@click.command()
@click.argument("text")
@click.option("--case", default=None, help="The case it belongs to.")
@click.option("--boat", default=None, help="The boat, where it belongs to no case.")
@click.option("--about", default=None, help="The symptom, check or fault it is about.")
@by_option
@record_option
def note(text: str, case: str | None, boat: str | None, about: str | None, by: str | None, path: Path | None) -> None:
    """Write a note into the record.

    \b
    Example:
        diagnose note "smell of hot rubber after an hour at cruise" --boat Brindle
    """
    from diagnose.commands.recordfile import opened

    with opened(path) as record:
        stored = _put(record, case, boat, {"kind": "note", "text": text, "about": about, "by": by})
    _say(f"noted, entry {stored}")


def _put(record: Record, case: str | None, boat: str | None, told: dict[str, Any]) -> int:
    """Append to a case, or to a boat, or to the only boat there is."""
    from diagnose.record.entries import from_plain

    entry = from_plain({k: v for k, v in told.items() if v is not None})
    if case is not None:
        head = record.case_named(case, record.boat_named(boat) if boat is not None else None)
        return record.append(entry, boat=head.boat, case=head.id).id
    boats = record.boats()
    if boat is None and len(boats) != 1:
        raise InputError("does not say which boat or case it belongs to", where=str(record.path),
                         right="--case or --boat; boats: " + (", ".join(boats) or "none yet"))
    return record.append(entry, boat=record.boat_named(boat) if boat is not None else boats[0]).id

