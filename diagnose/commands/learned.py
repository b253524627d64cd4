"""The command that adds to a boat's own file what was learned while doing the work, and shows what the file holds."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import console, rules_option, width_option
from diagnose.commands.recordfile import by_option, opened, record_option, say
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.knowledge.book import Book
    from diagnose.knowledge.own import OnThisBoat, Own

OPTIONS = {"minutes": "--minutes", "first_time": "--first-time", "restore_minutes": "--restore-minutes", "holds_two": "--holds",
           "access": "--access", "tools": "--tool", "hands": "--hands", "is": "--is", "note": "--note"}
"""Each thing that can be told, and its option."""
SAYS = {"step": ("minutes", "first_time", "holds_two", "access", "tools", "hands", "note"),
        "set-up": ("minutes", "restore_minutes", "access", "note"), "part": ("is", "note")}
"""What can be told of each kind of thing."""
MINUTES = click.FloatRange(min=0, max=10_000)


@click.command()
@click.argument("boat")
@click.argument("what", required=False)
@click.option("--minutes", type=MINUTES, default=None, help="How long it takes here, for a practised hand.")
@click.option("--first-time", type=MINUTES, default=None, help="How long a step takes a newer hand here.")
@click.option("--restore-minutes", type=MINUTES, default=None, help="How long putting a set-up back takes here.")
@click.option("--holds", "holds_two", default=None, help="A fastener of the step that holds something else as well, and what.")
@click.option("--access", default=None, help="How one gets at it here.")
@click.option("--tool", "tools", multiple=True, help="A tool wanted here beside the book's; may be given again.")
@click.option("--hands", type=click.IntRange(1, 2), default=None, help="Pairs of hands that the step takes here.")
@click.option("--is", "is_", default=None, help="Which of its look-alikes this boat takes, of a part.")
@click.option("--note", default=None, help="Anything else worth knowing the next time.")
@by_option
@click.option("--own", type=click.Path(path_type=Path), default=None, help="The boat's own file; else the one beside the record.")
@click.option("--json", "as_json", is_flag=True, help="Print what the file holds as JSON.")
@record_option
@rules_option
@width_option
def learned(boat: str, what: str | None, by: str | None, own: Path | None, as_json: bool, path: Path | None, rules_folder: Path | None,
            width: int | None, is_: str | None, tools: tuple[str, ...], **told: Any) -> None:
    """Keep what was learned on BOAT for the next time, in her own file; without any option show what it holds.

    WHAT is a step as job/step, a set-up or a part of the book. The next plan for her takes it up.

    \b
    Example:
        diagnose learned "Ashling Grey" swap-coolant-pump/map-bolts --minutes 25 --holds "lower left: the alternator's stay"
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.knowledge.own import load_own

    book = load_rules(rules_folder)
    boat, file = _whose(boat, own, path)
    about = _about(what, book) if what is not None else {}
    says = {k: v for k, v in {**told, "is": is_, "tools": tools}.items() if v not in (None, ())}
    there = load_own(file, book) if os.path.lexists(file) else None
    if says:
        there = _add(file, boat, about, says, by)
    elif by is not None:
        raise InputError("--by says who, and nothing is said", right=f"one of {', '.join(OPTIONS.values())}")
    if there is None:
        _nothing_yet(boat, file, as_json)
        return
    _show(there, boat, file, about, book, as_json, width)


def _nothing_yet(boat: str, file: Path, as_json: bool) -> None:
    if as_json:
        click.echo("{}")
    else:
        say(f"Nothing was learned on {boat} yet: there is no {file}.")


def _show(own: Own, boat: str, file: Path, about: dict[str, str], book: Book, as_json: bool, width: int | None) -> None:
    from diagnose.knowledge.own import learned_of
    from diagnose.record.ownfile import check_boat
    from diagnose.show.ownpage import own_page

    check_boat(own, boat, file)
    if as_json:
        click.echo(own.model_dump_json(indent=2, by_alias=True, exclude_none=True))
        return
    out = console(width)
    own_page(own.boat, file, _only(about, learned_of(own, book)), len(own.learned), book, out.width).write(out)


def _only(about: dict[str, str], learned: OnThisBoat) -> OnThisBoat:
    """What counts of one thing; all of it where none is named."""
    from diagnose.knowledge.own import OnThisBoat

    if not about:
        return learned
    step = about.get("job"), about.get("step")
    return OnThisBoat({k: v for k, v in learned.steps.items() if k == step},
                      {k: v for k, v in learned.setups.items() if k == about.get("setup")},
                      {k: v for k, v in learned.parts.items() if k == about.get("part")})


def _whose(boat: str, own: Path | None, path: Path | None) -> tuple[str, Path]:
    """The boat as the record spells her, and her own file.

    Raises:
        RecordError: the record does not know her, or cannot be read.
    """
    from diagnose.record.ownfile import own_path
    from diagnose.record.store import default_path

    if own is not None:
        return boat, own
    if path is None and not default_path().is_file():
        return boat, own_path(default_path(), boat)
    with opened(path, reading=True) as record:
        boat = record.boat_named(boat)
        return boat, own_path(record.path, boat)


def _about(what: str, book: Book) -> dict[str, str]:
    """What an item is of, as its keys.

    Raises:
        InputError: the book has no such step, set-up or part, with the nearest.
    """
    from diagnose.knowledge.text import did_you_mean, nearest

    job, slash, step = what.partition("/")
    name = book.now_called(job)
    if not slash and what in book.words.setups:
        return {"setup": what}
    if not slash and what in book.words.parts:
        return {"part": what}
    if name not in book.jobs:
        known = list(book.jobs) if slash else [*book.words.setups, *book.words.parts, *book.jobs]
        raise InputError("is no job of the book" if slash else "is neither a set-up nor a part of the book, nor a step as job/step",
                         where=what, right=did_you_mean(job, known))
    steps = [s.id for s in book.jobs[name].steps]
    if step not in steps:
        near = nearest(step, steps) or steps
        raise InputError(f"names no step of '{name}'", where=what,
                         right=" or ".join(f"{name}/{s}" for s in near) or "a set-up or a part: the book has no steps of it")
    return {"job": name, "step": step}


def _add(file: Path, boat: str, about: dict[str, str], says: dict[str, Any], by: str | None) -> Own:
    """Add an item to the file.

    Raises:
        InputError: it is not said of what, or something is said that is not told of such a thing.
    """
    from datetime import datetime

    from diagnose.knowledge.own import item_of
    from diagnose.record.ownfile import add_learned

    if not about:
        raise InputError("it is not said what this is of", right="a step as job/step, a set-up or a part, after the boat")
    kind = "step" if "step" in about else "set-up" if "setup" in about else "part"
    wrong = next((name for name in says if name not in SAYS[kind]), None)
    if wrong is not None:
        raise InputError(f"{OPTIONS[wrong]} is not told of a {kind}", where="/".join(about.values()),
                         right=", ".join(OPTIONS[name] for name in SAYS[kind]))
    if kind == "step":
        hands = {"skilled": says.pop("minutes", None), "first_time": says.pop("first_time", None)}
        minutes = {hand: value for hand, value in hands.items() if value is not None}
        says = {**says, "minutes": minutes} if minutes else says
    today = datetime.now().astimezone().date()
    return add_learned(file, boat, item_of({**about, **says, "on": today, **({"by": by} if by is not None else {})},
                                           where="/".join(about.values())))
