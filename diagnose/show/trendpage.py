"""The page of a trend: words first, then the drawing, then the looks it was made from."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.record.outlook import Outlook
from diagnose.record.outlookwords import sentences, told, where
from diagnose.record.series import Look, Series
from diagnose.show.layout import Page
from diagnose.show.trendplot import plot
from diagnose.show.words import SHORT_STATES, literal, plural

WIDE = 9
MOST_LOOKS = 12
MOST_LEFT_OUT = 4


def heading(series: Series) -> str:
    """What a series is of."""
    state = SHORT_STATES[series.state] if series.state is not None else "engine state not said"
    return f"{series.scale.title}, {state}" + (", worked out of readings" if series.worked else "")


def trend_page(outlooks: Sequence[Outlook], width: int) -> Page:
    """Each series of one symptom or reading: what it comes to, drawn, and its looks."""
    page = Page(width)
    for i, outlook in enumerate(outlooks):
        if i:
            page.line()
        series = outlook.series
        page.labelled("trend", f"{series.boat}: {heading(series)}", "bold", label_width=WIDE)
        for sentence in sentences(outlook):
            page.labelled("", sentence, label_width=WIDE)
        drawing = plot(outlook, width)
        if drawing:
            page.line()
            for line in drawing:
                page.line(literal(line))
        page.line()
        _looks(page, outlook)
    return page


def _looks(page: Page, outlook: Outlook) -> None:
    series = outlook.series
    shown = series.looks[-MOST_LOOKS:]
    page.items("looks", (_look(look, outlook) for look in shown), label_width=WIDE)
    if len(shown) < len(series.looks):
        page.labelled("", f"and {len(series.looks) - len(shown)} earlier", label_width=WIDE)
    if series.given_again:
        page.labelled("", f"{plural(series.given_again, 'look')} given again within the hour: the last one counts", label_width=WIDE)
    page.items("not used", series.left_out[:MOST_LEFT_OUT], label_width=WIDE)
    if len(series.left_out) > MOST_LEFT_OUT:
        page.labelled("", f"and {len(series.left_out) - MOST_LEFT_OUT} more", label_width=WIDE)


def _look(look: Look, outlook: Outlook) -> str:
    extra = [f"{look.given.at_rpm:.0f} revs a minute" if look.given.at_rpm is not None else "", "" if look.sure else "not sure",
             "hours reckoned" if look.reckoned and look.hours is not None else "", "" if look in outlook.looks else "left off the line",
             look.case or "", look.given.note or ""]
    return "; ".join([f"{where(look.hours, look.at)}: {told(look, outlook)}", *(part for part in extra if part)])


def known_page(boat: str, every: Sequence[Series], width: int) -> Page:
    """What there is to tell of a boat: all she was looked at for, with how many looks there are."""
    page = Page(width)
    page.labelled("trend", f"{boat}: {plural(len(every), 'thing')} looked at", "bold", label_width=WIDE)
    if not every:
        page.labelled("", "Nothing yet. Looks come in with a guided session, or with cases put on record.", label_width=WIDE)
    for series in sorted(every, key=lambda s: (-len(s.looks), s.scale.id, s.state or "")):
        page.labelled("", f"{series.scale.id}: {plural(len(series.looks), 'look')}; {heading(series)}", label_width=WIDE)
    return page
