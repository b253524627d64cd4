"""A trend drawn with plain characters: fixed once printed, without colour, the same on a screen and through a pipe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from statistics import median

from diagnose.record.outlook import Outlook
from diagnose.record.outlookwords import day, number
from diagnose.record.series import Look

ROWS = 11
LEAST_COLUMNS = 16
SEVERAL = "#"
KEY = {"o": "a look", "?": "one not sure", SEVERAL: "several in one place", "x": "one left off the line", ".": "the line",
       ":": "its slope at most and at least", "-": "the limit", "|": "a service"}
AHEAD_SHARE = 0.5
"""How far the drawing goes on after the last look to reach the limit, as a share of the time looked at."""
UP_SHARE = 1.5
"""A limit farther from the looks than this, as a share of their own height, is told and not drawn."""


@dataclass(frozen=True)
class Frame:
    """What the drawing covers: hours or days from left to right, values or places of grades from below."""

    left: float
    right: float
    low: float
    high: float

    def column(self, x: float, columns: int) -> int:
        """Place from left of so many columns; outside the frame it lies outside them too."""
        return round((x - self.left) / (self.right - self.left) * (columns - 1))

    def row(self, y: float, rows: int) -> int:
        """Place from the top of so many rows."""
        return round((self.high - y) / (self.high - self.low) * (rows - 1))


def height(look: Look, outlook: Outlook) -> float | None:
    """Where a look stands: its value, or the place of its grade; None where it has no value and the others have."""
    return look.value if outlook.series.by_value else look.place


def frame_of(outlook: Outlook) -> Frame | None:
    """The frame of everything worth drawing; None where there is nothing to draw, or all of it at one moment."""
    marks = placed(outlook)
    xs = [x for x, _, _ in marks]
    if len(outlook.looks) < 2 or min(xs) == max(xs):
        return None
    left, right = min(xs), max(xs)
    low, high = (min(y for _, y, _ in marks), max(y for _, y, _ in marks))
    if not outlook.series.by_value:
        return Frame(left, right, 0.0, float(len(outlook.series.scale.grades) - 1))
    trend, limit, meeting = outlook.trend, outlook.limit, outlook.meeting
    span = max(high - low, outlook.series.scale.sigma, abs(high) * 1e-6, 1e-9)
    if limit is not None and low - UP_SHARE * span <= limit.value <= high + UP_SHARE * span:
        low, high = min(low, limit.value), max(high, limit.value)
        if meeting is not None and meeting.at is not None and trend is not None:
            met = (limit.value - trend.intercept) / trend.slope
            right = max(right, min(met, right + AHEAD_SHARE * (right - left)))
    if trend is not None:
        ends = [trend.intercept + trend.slope * x for x in (outlook.x(outlook.looks[0]), right)]
        low, high = min(low, *ends), max(high, *ends)
    margin = 0.04 * max(high - low, span)
    return Frame(left, right, low - margin, high + margin)


def placed(outlook: Outlook) -> list[tuple[float, float, str]]:
    """Every look that has a place, with its mark."""
    found = []
    for look in (*outlook.aside, *outlook.looks):
        y = height(look, outlook)
        if y is None or (outlook.by == "hours" and look.hours is None):
            continue
        found.append((outlook.x(look), y, ("o" if look.sure else "?") if look in outlook.looks else "x"))
    return found


def plot(outlook: Outlook, width: int) -> list[str]:
    """The drawing, its axes and its key, in lines no wider than asked; nothing where there is nothing to draw.

    Args:
        outlook: what to draw.
        width: columns, 40 or more.
    """
    frame = frame_of(outlook)
    if frame is None:
        return []
    by_value = outlook.series.by_value
    rows = ROWS if by_value else max(2 * len(outlook.series.scale.grades) - 1, 3)
    labels = _labels(outlook, frame, rows)
    wide = max(len(label) for label in labels)
    columns = max(width - wide - 2, LEAST_COLUMNS)
    cells = [[" "] * columns for _ in range(rows)]
    _draw(cells, outlook, frame)
    lines = [f"{label:>{wide}} |{''.join(row)}".rstrip() for label, row in zip(labels, cells, strict=True)]
    lines.append(f"{'':>{wide}} +{'-' * columns}")
    lines.append(f"{'':>{wide + 2}}{_ends(outlook, frame, columns)}".rstrip())
    used = {c for row in cells for c in row}
    return [*lines, *_key(used, width)]


def _draw(cells: list[list[str]], outlook: Outlook, frame: Frame) -> None:
    rows, columns = len(cells), len(cells[0])
    limit, trend = outlook.limit, outlook.trend
    if limit is not None and frame.low <= limit.value <= frame.high:
        cells[frame.row(limit.value, rows)] = ["-"] * columns
    for at in service_places(outlook, frame):
        for line in cells:
            line[frame.column(at, columns)] = "|"
    steps = [(column, frame.left + column / (columns - 1) * (frame.right - frame.left)) for column in range(columns)]
    sides = fan(outlook)
    lines = [*((":", side) for side in sides), *([(".", (trend.intercept, trend.slope))] if trend is not None else [])]
    for mark, (foot, slope) in lines:
        for column, x in steps:
            y = foot + slope * x
            if x >= outlook.x(outlook.looks[0]) and frame.low <= y <= frame.high:
                cells[frame.row(y, rows)][column] = mark
    taken: set[tuple[int, int]] = set()
    for x, y, mark in placed(outlook):
        row, column = frame.row(y, rows), frame.column(x, columns)
        cells[row][column] = SEVERAL if (row, column) in taken else mark
        taken.add((row, column))


def fan(outlook: Outlook) -> list[tuple[float, float]]:
    """The line with its slope at least and at most, turned about the middle of the looks: height at nought, and slope, of each."""
    trend = outlook.trend
    if trend is None or trend.low is None or trend.high is None:
        return []
    middle = median(outlook.x(look) for look in outlook.looks)
    height_there = trend.intercept + trend.slope * middle
    return [(height_there - slope * middle, slope) for slope in (trend.low, trend.high)]


def service_places(outlook: Outlook, frame: Frame) -> list[float]:
    """Where on the axis the services within the frame stand."""
    first = outlook.looks[0].at
    xs = [m.hours if outlook.by == "hours" else (m.at - first).total_seconds() / 86400.0 for m in outlook.series.marks]
    return [x for x in xs if x is not None and frame.left <= x <= frame.right]


def _labels(outlook: Outlook, frame: Frame, rows: int) -> list[str]:
    """What stands left of each row: values at the top, the bottom, the middle and the limit, or the grades."""
    if not outlook.series.by_value:
        grades = outlook.series.scale.grades
        labels = [""] * rows
        for place, grade in enumerate(grades):
            labels[frame.row(place, rows)] = grade[:14]
        return labels
    step = (frame.high - frame.low) / (rows - 1)
    labels = [number(frame.high - row * step) if row in (0, rows // 2, rows - 1) else "" for row in range(rows)]
    if outlook.limit is not None and frame.low <= outlook.limit.value <= frame.high:
        place = frame.row(outlook.limit.value, rows)
        labels[place] = number(outlook.limit.value)
        for beside in (place - 1, place + 1):
            if 0 <= beside < rows:
                labels[beside] = ""
    return labels


def _ends(outlook: Outlook, frame: Frame, columns: int) -> str:
    """The two ends of the axis, as far as both have room."""
    left, right = (end_words(outlook, x) for x in (frame.left, frame.right))
    return left + " " * max(columns - len(left) - len(right), 1) + right if len(left) + len(right) < columns else left


def end_words(outlook: Outlook, x: float) -> str:
    """A place on the axis in words: engine hours, or a day."""
    return f"{number(x, 6) if abs(x) < 100 else f'{x:.0f}'} h" if outlook.by == "hours" else day(outlook.looks[0].at + timedelta(days=x))


def _key(used: set[str], width: int) -> list[str]:
    parts = [f"{mark} {meaning}" for mark, meaning in KEY.items() if mark in used]
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + 2 + len(part) <= width:
            lines[-1] += f"  {part}"
        else:
            lines.append(part)
    return lines
