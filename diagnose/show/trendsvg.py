"""A trend as a drawing to keep or to print: ink only, with a title and a description that say what it shows."""

from __future__ import annotations

import math
from collections.abc import Callable

from diagnose.record.outlook import Outlook
from diagnose.record.outlookwords import UNITS, amount, number, sentences
from diagnose.show.report.figures import LETTER, WIDTH, Drawing
from diagnose.show.trendpage import heading
from diagnose.show.trendplot import Frame, end_words, fan, frame_of, placed, service_places

HIGH = 220.0
_MARK = 4.0
_TICKS = 4


def trend_svg(outlook: Outlook) -> str:
    """The drawing of a trend as a file of its own.

    Args:
        outlook: what to draw. One that has no line is told in words alone.
    """
    return trend_drawing(outlook).replace("<svg ", '<svg font-family="sans-serif" style="background:#ffffff" ', 1) + "\n"


def trend_drawing(outlook: Outlook, name: str = "trend") -> str:
    """The drawing of a trend as markup within a page.

    Args:
        outlook: what to draw.
        name: its id, unique in the page.
    """
    series = outlook.series
    said = sentences(outlook)
    drawing = Drawing(name, f"{series.boat}: {heading(series)}", " ".join(said))
    drawing.paragraph(f"{series.boat}: {heading(series)}", bold=True)
    frame = frame_of(outlook)
    if frame is not None:
        _picture(drawing, outlook, frame)
    for sentence in said:
        drawing.height += 4
        drawing.paragraph(sentence)
    return drawing.markup()


def _picture(drawing: Drawing, outlook: Outlook, frame: Frame) -> None:
    labels = _ticks(outlook, frame)
    # the letters of a label are taken a little wider than they are, so that none is cut
    left = max(len(label) for _, label in labels) * LETTER * 0.6 + 10.0
    top, right = drawing.height + 12.0, WIDTH - 8.0
    if outlook.series.by_value:
        unit = UNITS.get(outlook.series.scale.unit, outlook.series.scale.unit)
        drawing.paragraph(unit or "a ratio")
        top = drawing.height + 12.0

    def across(x: float) -> float:
        return left + (x - frame.left) / (frame.right - frame.left) * (right - left)

    def down(y: float) -> float:
        return top + (frame.high - y) / (frame.high - frame.low) * HIGH

    drawing.line(left, top - 6, left, top + HIGH + 6)
    drawing.line(left, top + HIGH + 6, right, top + HIGH + 6)
    for y, label in labels:
        drawing.line(left - 4, down(y), left, down(y))
        drawing.text(left - 7, down(y) + 5, label, anchor="end")
    for x in service_places(outlook, frame):
        drawing.line(across(x), top - 6, across(x), top + HIGH + 6, dashes="1 4", wide=1.5)
    _lines(drawing, outlook, frame, across, down)
    for x, y, mark in placed(outlook):
        size = _MARK if mark != "x" else _MARK / 2
        drawing.bar(across(x) - size, across(x) + size, down(y) - size, 2 * size, filled=mark == "o", wide=1.0)
    drawing.height = top + HIGH + 26.0
    ends = end_words(outlook, frame.left), end_words(outlook, frame.right)
    drawing.text(left, drawing.height, ends[0])
    if (len(ends[0]) + len(ends[1])) * LETTER * 0.56 < right - left:
        drawing.text(right, drawing.height, ends[1], anchor="end")
    drawing.height += 6
    drawing.paragraph(_key(outlook, frame))


def _lines(drawing: Drawing, outlook: Outlook, frame: Frame, across: Callable[[float], float],
           down: Callable[[float], float]) -> None:
    trend, limit = outlook.trend, outlook.limit
    if limit is not None and frame.low <= limit.value <= frame.high:
        drawing.line(across(frame.left), down(limit.value), across(frame.right), down(limit.value), wide=2.0, dashes="8 4")
        below = down(limit.value) < drawing.height + 30.0
        drawing.text(across(frame.right), down(limit.value) + (LETTER if below else -5.0),
                     f"{limit.grade} from {amount(limit.value, outlook.series.scale.unit)}", anchor="end")
    if trend is not None:
        first = outlook.x(outlook.looks[0])
        for foot, slope in fan(outlook):
            _within(drawing, frame, (foot, slope), first, across, down, wide=1.0, dashes="3 3")
        _within(drawing, frame, (trend.intercept, trend.slope), first, across, down, wide=2.0)


def _within(drawing: Drawing, frame: Frame, line: tuple[float, float], first: float, across: Callable[[float], float],
            down: Callable[[float], float], *, wide: float, dashes: str = "") -> None:
    """The part of a line that lies in the frame, from the first look on."""
    foot, slope = line
    left, right = first, frame.right
    if slope:
        low, high = sorted(((frame.low - foot) / slope, (frame.high - foot) / slope))
        left, right = max(left, low), min(right, high)
    if left < right:
        drawing.line(across(left), down(foot + slope * left), across(right), down(foot + slope * right), wide=wide, dashes=dashes)


def _ticks(outlook: Outlook, frame: Frame) -> list[tuple[float, str]]:
    """Heights with what stands beside them: round values, or the grades."""
    if not outlook.series.by_value:
        return [(float(place), grade) for place, grade in enumerate(outlook.series.scale.grades)]
    rough = (frame.high - frame.low) / _TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * times for times in (1, 2, 5, 10) if power * times >= rough)
    first = math.ceil(frame.low / step)
    return [(i * step, number(i * step, 6)) for i in range(first, math.floor(frame.high / step) + 1)]


def _key(outlook: Outlook, frame: Frame) -> str:
    marks = {mark for _, _, mark in placed(outlook)}
    told = ["Filled: a look.", "Hatched: one not sure." if "?" in marks else "",
            "Small and hatched: left off the line." if "x" in marks else "",
            "Solid: the line." if outlook.trend is not None else "", "Thin: its slope at most and at least." if fan(outlook) else "",
            "Dashed: the limit." if outlook.limit is not None and frame.low <= outlook.limit.value <= frame.high else "",
            "Dotted, upright: a service." if service_places(outlook, frame) else ""]
    return " ".join(part for part in told if part)
