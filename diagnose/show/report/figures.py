"""The drawings of a report: for and against, and the ruler of hours. Ink only; hatch, outline and words tell things apart.

A drawing is as wide as a phone's column, so that its letters are as large there as those round it; on paper it is set smaller.
Every text is escaped here, and a drawing carries its title and its description.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

from diagnose.show.report.telling import factor
from diagnose.show.words import literal

WIDTH = 320.0
LETTER = 16.0
_LINE = 20.0
_WIDE = 0.56
"""Mean width of a letter, in its height: on the safe side for the usual faces."""
_INK, _PAPER = "#1a1a1a", "#ffffff"


@dataclass
class Drawing:
    """A drawing that grows downwards: shapes and letters, and at the end the whole as markup.

    Attributes:
        id: unique in the page; the names inside are made from it.
        title: what it is.
        desc: what it shows, in words.
    """

    id: str
    title: str
    desc: str
    height: float = 0.0
    _parts: list[str] = field(default_factory=list)

    def text(self, x: float, y: float, words: str, *, anchor: str = "start", bold: bool = False) -> None:
        """Words with their foot at a point [px]."""
        weight = ' font-weight="700"' if bold else ""
        self._parts.append(f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{weight}>{escape(literal(words))}</text>')

    def paragraph(self, words: str, *, bold: bool = False, indent: float = 0.0) -> None:
        """Words wrapped across the drawing below all there is."""
        for row in wrapped(words, WIDTH - indent):
            self.height += _LINE
            self.text(indent, self.height - 5.0, row, bold=bold)

    def line(self, x1: float, y1: float, x2: float, y2: float, *, wide: float = 1.0, dashes: str = "") -> None:
        """A straight line."""
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        self._parts.append(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{_INK}" '
                           f'stroke-width="{wide:g}"{dashed}/>')

    def bar(self, x1: float, x2: float, y: float, high: float, *, filled: bool, wide: float = 1.5) -> None:
        """A bar between two places: filled with ink, or hatched within an outline."""
        left, across = min(x1, x2), max(1.5, abs(x2 - x1))
        fill = _INK if filled else f"url(#{self.id}-hatch)"
        self._parts.append(f'<rect x="{left:.1f}" y="{y:.1f}" width="{across:.1f}" height="{high:.1f}" fill="{fill}" stroke="{_INK}" '
                           f'stroke-width="{wide:g}"/>')

    def arrow(self, x: float, y: float, *, right: bool) -> None:
        """The mark that a bar goes on beyond the edge."""
        tip = 9.0 if right else -9.0
        self._parts.append(f'<path d="M{x:.1f} {y - 8:.1f} L{x + tip:.1f} {y:.1f} L{x:.1f} {y + 8:.1f} Z" fill="{_PAPER}" stroke="{_INK}" '
                           'stroke-width="1.5"/>')

    def markup(self) -> str:
        """The whole drawing as SVG."""
        name = escape(self.id)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" id="{name}" viewBox="0 0 {WIDTH:g} {math.ceil(self.height + 4)}" role="img" '
            f'aria-labelledby="{name}-title {name}-desc" font-size="{LETTER:g}" fill="{_INK}">'
            f'<title id="{name}-title">{escape(literal(self.title))}</title><desc id="{name}-desc">{escape(literal(self.desc))}</desc>'
            f'<defs><pattern id="{name}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
            f'<rect width="6" height="6" fill="{_PAPER}"/><line x1="0" y1="0" x2="0" y2="6" stroke="{_INK}" stroke-width="2"/>'
            f'</pattern></defs>'
            f'{"".join(self._parts)}</svg>'
        )


def wrapped(words: str, room: float) -> list[str]:
    """Words in rows that fit a width [px]; a word longer than a row is broken."""
    most = max(8, int(room / (LETTER * _WIDE)))
    rows: list[str] = [""]
    for word in words.split():
        while len(word) > most:
            rows.append(word[:most])
            word = word[most:]
        rows[-1:] = [f"{rows[-1]} {word}".strip()] if len(rows[-1]) + len(word) < most else [rows[-1], word]
    return [row for row in rows if row]


# ------------------------------------------------------------------ for and against


@dataclass(frozen=True)
class Weight:
    """What one group of observations adds to the leading fault and to its rival [decibans]; None where there is no rival."""

    label: str
    leader: float
    rival: float | None


MOST_ROWS = 8
_MIDDLE = WIDTH / 2
_HALF = 140.0
_LEAST_SPAN, _MOST_SPAN = 7.0, 25.0


def for_and_against(name: str, title: str, desc: str, leader: str, rival: str | None, weights: Sequence[Weight]) -> str:
    """Bars to the left for what speaks against, to the right for what speaks for: the leading fault filled, its rival hatched.

    Args:
        name: id of the drawing, unique in the page.
        title: what it is.
        desc: what it shows, in words.
        leader: the leading fault's title.
        rival: its rival's, if there is one.
        weights: one a row, in order; of a long list the first `MOST_ROWS` are drawn.
    """
    drawing = Drawing(name, title, desc)
    for filled, words in ((True, leader), (False, rival)):
        if words is not None:
            drawing.bar(1, 17, drawing.height + 4, 12, filled=filled)
            drawing.paragraph(words, indent=26)
    drawing.height += 8
    drawing.height += _LINE
    drawing.text(_MIDDLE - 8, drawing.height - 5, "against", anchor="end", bold=True)
    drawing.text(_MIDDLE + 8, drawing.height - 5, "for", bold=True)
    top = drawing.height
    largest = max((abs(x) for w in weights[:MOST_ROWS] for x in (w.leader, w.rival or 0.0)), default=0.0)
    span = min(_MOST_SPAN, max(_LEAST_SPAN, largest))
    for weight in weights[:MOST_ROWS]:
        drawing.height += 8
        drawing.paragraph(weight.label)
        _bar(drawing, weight.leader, span, filled=True)
        if weight.rival is not None:
            _bar(drawing, weight.rival, span, filled=False)
    drawing.line(_MIDDLE, top, _MIDDLE, top + 6)
    return drawing.markup()


def _bar(drawing: Drawing, decibans: float, span: float, *, filled: bool) -> None:
    """One bar from the middle, its factor on the side that it leaves free."""
    drawing.height += _LINE
    y = drawing.height - _LINE + 4
    drawing.line(_MIDDLE, y - 3, _MIDDLE, y + 16)
    share = max(-1.0, min(1.0, decibans / span))
    if abs(share) * _HALF >= 1.0:
        drawing.bar(_MIDDLE, _MIDDLE + share * _HALF, y, 12, filled=filled)
        if abs(decibans) > span:
            drawing.arrow(_MIDDLE + share * _HALF, y + 6, right=share > 0)
    right = share >= 0
    drawing.text(_MIDDLE - 8 if right else _MIDDLE + 8, y + 12, factor(decibans), anchor="end" if right else "start")


# ------------------------------------------------------------------ the ruler of hours


@dataclass(frozen=True)
class Band:
    """When a fault ends, if it is there: from and to [h], or None where it does not move on by itself."""

    label: str
    words: str
    hours: tuple[float, float] | None
    trip_hours: float
    """The trip on the clock that this fault runs by [h]."""

    @property
    def inside(self) -> bool:
        """Whether the band begins before the trip is over."""
        return self.hours is not None and self.hours[0] < self.trip_hours


_LEFT, _RIGHT = 8.0, WIDTH - 14.0
_TICKS = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0, 10_000.0)


def hour_ruler(name: str, title: str, desc: str, trip_hours: float, trip_words: str, bands: Sequence[Band]) -> str:
    """The trip against the hours within which each fault ends, on a scale where each step is about three times the one before.

    Args:
        name: id of the drawing, unique in the page.
        title: what it is.
        desc: what it shows, in words.
        trip_hours: engine hours of the trip [h], positive.
        trip_words: the trip in words.
        bands: one a fault; a band that begins within the trip has a heavy outline.
    """
    drawing = Drawing(name, title, desc)
    ends = [h for b in bands if b.hours is not None for h in b.hours] + [trip_hours]
    ticks = _ticks(min(ends), max(ends))

    def place(hours: float) -> float:
        share = math.log(max(hours, 1e-6) / ticks[0]) / math.log(ticks[-1] / ticks[0])
        return _LEFT + min(1.0, max(0.0, share)) * (_RIGHT - _LEFT)

    _scale(drawing, ticks, [place(tick) for tick in ticks])
    drawing.height += 6
    drawing.paragraph(trip_words, bold=True)
    drawing.height += _LINE
    drawing.bar(_LEFT, place(trip_hours), drawing.height - 15, 10, filled=True)
    top = drawing.height - 4
    for band in bands:
        drawing.height += 10
        drawing.paragraph(band.label, bold=True)
        drawing.paragraph(band.words)
        drawing.height += _LINE
        if band.hours is not None:
            low, high = place(band.hours[0]), place(band.hours[1])
            drawing.bar(low, high, drawing.height - 16, 12, filled=False, wide=4.0 if band.inside else 1.5)
            if band.hours[1] > ticks[-1]:
                drawing.arrow(high, drawing.height - 10, right=True)
            if band.hours[0] < ticks[0]:
                drawing.arrow(low, drawing.height - 10, right=False)
        end = place(band.trip_hours)
        drawing.line(end, drawing.height - 20, end, drawing.height, wide=2.0, dashes="4 3")
    drawing.line(place(trip_hours), top - 12, place(trip_hours), top + 4, wide=2.0)
    return drawing.markup()


def _ticks(low: float, high: float) -> tuple[float, ...]:
    """The marks of the scale: those from just below the least to just above the most, and two at least."""
    first = max((i for i, t in enumerate(_TICKS) if t <= low), default=0)
    last = min((i for i, t in enumerate(_TICKS) if t >= high), default=len(_TICKS) - 1)
    first = min(first, len(_TICKS) - 2)
    return _TICKS[first : max(last, first + 1) + 1]


def _scale(drawing: Drawing, ticks: Sequence[float], places: Sequence[float]) -> None:
    drawing.paragraph("Hours from now", bold=True)
    drawing.height += _LINE
    y = drawing.height + 4
    drawing.line(places[0], y, places[-1], y)
    free = 0.0
    for tick, x in zip(ticks, places, strict=True):
        drawing.line(x, y - 4, x, y + 4)
        words = f"{tick:g}"
        across = len(words) * LETTER * _WIDE
        centre = min(max(x, across / 2), WIDTH - across / 2)
        if centre - across / 2 >= free:
            drawing.text(centre, y - 8, words, anchor="middle")
            free = centre + across / 2 + 6
    drawing.height = y + 6
