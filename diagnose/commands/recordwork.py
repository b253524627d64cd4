"""The longer work behind the commands of the record: entering a boat, showing boats and cases, telling and taking back a finding."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from diagnose.case import Boat, Case
from diagnose.commands.common import console
from diagnose.commands.recordfile import opened, parse_hours, parse_when, say_overtaken
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.text import did_you_mean
from diagnose.record.entries import Assessed, Found, TakenBack, from_plain, plain
from diagnose.record.fold import boat_of
from diagnose.record.learn import Learning, findings, learn
from diagnose.record.store import Record, Stored
from diagnose.show.entrywords import DECISIONS, said_of
from diagnose.show.recordpage import boat_page, case_page, found_page, record_page, titles_of

_FLAGS = {"yes": True, "true": True, "no": False, "false": False}


def enter_boat(path: Path | None, name: str, facts: Sequence[str], hours: str | None, forget: Sequence[str], by: str | None,
               note: str | None, rules_folder: Path | None) -> None:
    """Enter facts of a boat, as they were typed, once the book has found them right.

    Raises:
        InputError: a fact that the book does not know, or a value it cannot have.
        RecordError: it could not be written.
    """
    from diagnose.situation import resolve

    book = load_rules(rules_folder)
    arrangement: dict[str, Any] = {}
    figures: dict[str, str] = {}
    for fact in facts:
        key, sign, value = fact.partition("=")
        if not sign or not value.strip():
            raise InputError(f"'{fact}' is no fact", right="FACT=VALUE, such as cooling=heat-exchanger")
        if key.strip() in book.figures and key.strip() not in book.facts:
            figures[key.strip()] = value.strip()
        else:
            arrangement[key.strip()] = _value(book, key.strip(), value.strip())
    told = {"kind": "boat", "name": name, "arrangement": arrangement, "figures": figures, "forget": tuple(forget), "by": by, "note": note}
    entry = from_plain({k: v for k, v in told.items() if v})
    reading = {"kind": "hours", "engine_hours": parse_hours(hours) if hours is not None else 0.0, "by": by}
    meter = from_plain({k: v for k, v in reading.items() if v is not None}) if hours is not None else None
    resolve(Case(opened_because="routine-look", boat=Boat(name="asked", arrangement=arrangement, figures=figures)), book)
    with opened(path, create=True) as record, record.writing():
        known = any(b.casefold() == " ".join(name.split()).casefold() for b in record.boats())
        if arrangement or figures or forget or note or not known:
            spelt = record.boat_named(name) if known else name
            say_overtaken(record, record.append(entry.model_copy(update={"name": " ".join(spelt.split())}), boat=spelt))
        if meter is not None:
            say_overtaken(record, record.append(meter, boat=name))


def _value(book: Book, key: str, value: str) -> str | float | bool:
    fact = book.facts.get(key)
    if fact is not None and fact.flag and value.lower() in _FLAGS:
        return _FLAGS[value.lower()]
    return value


def show_record(path: Path | None, boat: str | None, as_json: bool, width: int | None) -> None:
    """List boats and cases.

    Raises:
        RecordError: the record cannot be read.
    """
    with opened(path, reading=True) as record:
        hers = record.boat_named(boat) if boat is not None else None
        boats = [boat_of(record, name) for name in record.boats() if hers in (None, name)]
        cases = record.cases(hers)
        judged = _decisions(record)
        count = record.verify()
        where = record.path
    if as_json:
        lines = [{"case": c.id, "boat": c.boat, "title": c.title, "opened": c.opened.isoformat(), "closed": c.closed,
                  "entries": c.entries, "decision": judged.get(c.id)} for c in cases]
        known = [b.model_dump(mode="json", exclude_defaults=True) for b in boats]
        click.echo(json.dumps({"boats": known, "cases": lines, "entries": count}, indent=2, ensure_ascii=False))
        return
    out = console(width)
    record_page(where, boats, cases, judged, count, out.width).write(out)


def _decisions(record: Record) -> dict[str, str]:
    """The last decision of each case that was judged."""
    words = {}
    for stored in record.entries(kinds=("assessed",)):
        if isinstance(stored.entry, Assessed) and not stored.taken_back:
            decision = str(json.loads(stored.entry.result)["decision"])
            words[str(stored.case)] = DECISIONS.get(decision, decision)
    return words


def show_boat(path: Path | None, name: str, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
    """Show one boat, with what was learned of her.

    Raises:
        RecordError: the record cannot be read, or there is no such boat.
    """
    book = load_rules(rules_folder)
    with opened(path, reading=True) as record:
        boat = boat_of(record, name)
        learning: Learning | None = None
        trouble = ""
        try:
            learning = learn(record, boat.name, book)
        except InputError as error:  # facts of another book: she can be shown, though not judged
            trouble = " ".join(str(error).split())
    if as_json:
        data = {**boat.model_dump(mode="json", exclude_defaults=True), "own_rates": learning.own_rates if learning is not None else {}}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    out = console(width)
    boat_page(boat, book, learning, out.width, trouble).write(out)


def show_case(path: Path | None, case: str, boat: str | None, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
    """Show one case in full.

    Raises:
        RecordError: the record cannot be read, or there is no such case.
    """
    with opened(path, reading=True) as record:
        head = record.case_named(case, record.boat_named(boat) if boat is not None else None)
        entries = record.entries(case=head.id)
    if as_json:
        lines = [{"id": s.id, "taken_back": s.taken_back, **plain(s.entry)} for s in entries]
        click.echo(json.dumps({"case": head.id, "boat": head.boat, "title": head.title, "closed": head.closed, "entries": lines},
                              indent=2, ensure_ascii=False))
        return
    out = console(width)
    case_page(head, entries, titles_of(load_rules(rules_folder)), out.width).write(out)


def tell_finding(path: Path | None, case: str, faults: Sequence[str], told: dict[str, Any], across: bool, rules_folder: Path | None,
                 width: int | None) -> None:
    """Record what it was, and print how the rates move.

    Raises:
        InputError: a fault the book does not know, or nothing said.
        RecordError: it could not be written.
    """
    book = load_rules(rules_folder)
    titles = {fault.title.lower(): fault.id for fault in book.faults.values()}
    known = tuple(titles.get(fault.lower(), book.now_called(fault)) for fault in faults)  # as the page names it, or by its id
    for fault in known:
        if fault not in book.faults:
            near = did_you_mean(fault, list(book.faults)) or "the id of a fault"
            raise InputError(f"fault '{fault}' is not in the book", where=case, right=f"{near}, or --not-in-book with your own words")
    if not (known or told["not_in_book"] or told["nothing_wrong"]):
        raise InputError("nothing is said of what it was", where=case, right="ids of faults, --not-in-book or --nothing-wrong")
    fields = {"kind": "found", "faults": known, "not_in_book": told["not_in_book"], "nothing_wrong": told["nothing_wrong"],
              "sure": "likely" if told["likely"] else "certain", "cost": told["cost"], "note": told["note"], "by": told["by"]}
    entry = from_plain({**{k: v for k, v in fields.items() if v}, "at": parse_when(told["at"])}, where=case)
    with opened(path) as record:
        head = record.case_named(case)
        before = learn(record, head.boat, book, across=across)
        stored = record.append(entry, boat=head.boat, case=head.id)
        after = learn(record, head.boat, book, across=across)
        say_overtaken(record, stored)
    out = console(width)
    said = f"{head.id}: {said_of(stored.entry, titles_of(book))}"
    found_page(said, after, before, known if not told["likely"] else (), out.width).write(out)


def take_back_finding(path: Path | None, case: str, faults: Sequence[str], told: dict[str, Any], across: bool, rules_folder: Path | None,
                      width: int | None) -> None:
    """Take back the last finding of a case, and print how the rates move back.

    Raises:
        InputError: there is none, or something else is said beside it.
        RecordError: it could not be written.
    """
    if faults or told["not_in_book"] or told["nothing_wrong"]:
        raise InputError("--undo takes back a finding, and says nothing new", where=case, right="first --undo, then the finding")
    book = load_rules(rules_folder)
    with opened(path) as record:
        head = record.case_named(case)
        last: Stored | None = next((s for s in findings(record, head.boat) if s.case == head.id), None)
        if last is None or not isinstance(last.entry, Found):
            raise InputError("nothing was found in it yet", where=head.id, right="diagnose found with what it was")
        before = learn(record, head.boat, book, across=across)
        fields = {"at": parse_when(told["at"]), "by": told["by"], "reason": told["note"]}
        taken = from_plain({"kind": "taken-back", "entry": last.id, **{k: v for k, v in fields.items() if v is not None}})
        assert isinstance(taken, TakenBack)
        record.append(taken, boat=head.boat, case=head.id)
        after = learn(record, head.boat, book, across=across)
    out = console(width)
    said = f"{head.id}: taken back: {said_of(last.entry, titles_of(book))}"
    found_page(said, after, before, [book.now_called(f) for f in last.entry.faults], out.width).write(out)
