"""What is due as an iCalendar file: a day's event for what has a day, a task without one for what is owed before leaving.

Written after RFC 5545: lines end in CR LF and are folded at 75 octets, text is escaped, and an entry keeps its UID from one
export to the next, so that a calendar that is given the file again moves what it has and adds nothing twice.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import date, datetime, timezone

from diagnose.record.due import Due, DueList
from diagnose.record.outlookwords import number

PRODUCT = "-//diagnose//what is due//EN"
OCTETS = 75
"""Longest line, its end not counted (RFC 5545, 3.1)."""


def calendar_of(due: DueList, seed: str, edition: int) -> str:
    """The whole file.

    Args:
        due: what is due; at least one thing.
        seed: what tells this boat's record from any other, such as the digest of its first entry.
        edition: a number that grows with the record, so that a later file is known for the later.

    Raises:
        ValueError: nothing is due; a calendar holds something.
    """
    if not due.items:
        raise ValueError("nothing is due, and an empty calendar is none")
    stamp = due.now.astimezone(timezone.utc)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}"]
    for item in due.items:
        lines += _component(item, due.boat, seed, edition, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def _component(item: Due, boat: str, seed: str, edition: int, stamp: datetime) -> list[str]:
    kind = "VTODO" if item.by_date is None else "VEVENT"
    today = stamp.astimezone().date()
    told = [item.why]
    if item.by_hours is not None:
        told.append(f"By {number(item.by_hours, 6) if item.by_hours < 1 else f'{item.by_hours:.0f}'} engine hours.")
    if item.overdue and item.by_date is not None and item.by_date < today:
        told.append(f"It was due on {item.by_date.day} {item.by_date:%B %Y}.")
    lines = [f"BEGIN:{kind}", f"UID:{uid(seed, item)}", f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}", f"SEQUENCE:{edition}"]
    if item.by_date is not None:
        # what is past stands on the day of the export: on its own day nobody would see it
        lines += [f"DTSTART;VALUE=DATE:{_day(max(item.by_date, today))}", "TRANSP:TRANSPARENT"]
    else:
        lines.append("STATUS:NEEDS-ACTION")
    lines += [f"SUMMARY:{escaped(f'{boat}: {item.title}')}", f"DESCRIPTION:{joined(told)}", f"END:{kind}"]
    return lines


def _day(on: date) -> str:
    return f"{on.year:04d}{on.month:02d}{on.day:02d}"


def uid(seed: str, item: Due) -> str:
    """The same for the same thing of the same record, whenever it is due, and for nothing else."""
    return str(uuid.uuid5(uuid.NAMESPACE_OID, f"{seed}\n{item.kind}\n{item.id}"))


def escaped(text: str) -> str:
    """Text as a value of type TEXT: signs that mean something are escaped, and what cannot be printed is a space."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def joined(texts: Iterable[str]) -> str:
    """Several texts as one value, each on a line of its own."""
    return "\\n".join(escaped(text) for text in texts)


def folded(line: str) -> str:
    """A line cut into pieces of 75 octets at most, each further one begun by a space; no letter is cut through."""
    pieces: list[str] = []
    piece, size = "", 0
    for letter in line:
        octets = len(letter.encode("utf-8"))
        if size + octets > OCTETS:
            pieces.append(piece)
            piece, size = " ", 1
        piece += letter
        size += octets
    return "\r\n".join([*pieces, piece])
