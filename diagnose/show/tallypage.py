"""The page of the tally: how often the first line was right, and the chances said beside what came true."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.record.tally import Band, Tally
from diagnose.show.layout import Page
from diagnose.show.words import band, plural

_WIDE = 13
SCALE, NARROW = 41, 31
"""Columns of a bar from 0 to 100, on a page that has room for it and on one that has not."""
_ROOMY = 70
_TICKS = (0, 25, 50, 75, 100)


def tally_page(tally: Tally, width: int) -> Page:
    """Counts first, then one bar a band of chance: `o` what came true, `|` what was said, dashes the interval."""
    page = Page(width)
    page.labelled("tally", f"{plural(tally.cases, 'case')} in which it is known for certain what it was", "bold", label_width=_WIDE)
    if tally.cases:
        first = _share(tally.first_right, tally.cases, tally.first_interval)
        few = _share(tally.few_right, tally.cases, tally.few_interval)
        page.labelled("first", f"{first} had it on the first line", label_width=_WIDE)
        page.labelled("first three", f"{few} had it among the first three", label_width=_WIDE)
    if tally.nothing_wrong:
        page.labelled("healthy", f"{plural(tally.nothing_wrong, 'case')} more in which nothing was wrong", label_width=_WIDE)
    if tally.brier is not None:
        page.labelled("Brier", f"{tally.brier:.3f} over {plural(tally.lines, 'line')}: the mean square of what was said less what came "
                      "true. 0 is perfect; always saying 50 in 100 scores 0.250.", label_width=_WIDE)
    for text in tally.left_out:
        page.labelled("left out", text, label_width=_WIDE)
    if tally.bands:
        page.line()
        _diagram(page, tally)
    return page


def _share(hits: int, count: int, interval: tuple[float, float]) -> str:
    return f"{hits} of {count} ({interval[0] * 100:.0f} to {interval[1] * 100:.0f} in 100)"


def _diagram(page: Page, tally: Tally) -> None:
    columns = SCALE if page.width >= _ROOMY else NARROW
    ticks = [_place(percent / 100, columns) for percent in _TICKS]
    page.line("Of lines with this chance, in 100, so many came true:", "bold")
    page.line(f"{'said':<{_WIDE}}{'came true':<{_WIDE}}{''.join('+' if i in ticks else '.' for i in range(columns))}")
    for row in tally.bands:
        said = f"{row.low * 100:.0f} to {row.high * 100:.0f}"
        page.line(f"{said:<{_WIDE}}{f'{row.came} of {row.lines}':<{_WIDE}}{bar(row, columns)}")
    page.line(f"{'':<{2 * _WIDE}}{_figures(ticks)}")
    page.line()
    for row in tally.bands:
        low, high = row.interval
        page.labelled(f"{row.low * 100:.0f} to {row.high * 100:.0f}", f"{band(row.said)}: said {row.said * 100:.0f} on average, "
                      f"{row.came / row.lines * 100:.0f} came true (the true share lies between {low * 100:.0f} and {high * 100:.0f}); "
                      f"{_verdict(row)}", label_width=_WIDE)
    page.labelled("key", "o came true, | was said, - where the true share lies (95 in 100). | within the dashes: nothing speaks against "
                  "what was said.", label_width=_WIDE)


def _verdict(row: Band) -> str:
    low, high = row.interval
    if low <= row.said <= high:
        return "as said"
    return "more came true than was said" if row.said < low else "fewer came true than was said"


def _place(share: float, columns: int) -> int:
    return round(share * (columns - 1))


def bar(row: Band, columns: int = SCALE) -> str:
    """The bar of one band: dashes from end to end of the interval, then what was said, then what came true on top."""
    marks = [" "] * columns
    for place in range(_place(row.interval[0], columns), _place(row.interval[1], columns) + 1):
        marks[place] = "-"
    marks[_place(row.said, columns)] = "|"
    marks[_place(row.came / row.lines, columns)] = "o"
    return "".join(marks).rstrip()


def _figures(ticks: Sequence[int]) -> str:
    marks = [" "] * (ticks[-1] + 3)
    for percent, place in zip(_TICKS, ticks, strict=True):
        marks[place : place + len(str(percent))] = str(percent)
    return "".join(marks).rstrip()
