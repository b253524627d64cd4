"""The page of `rules coverage`: what the checks find and part, and what statements rest on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnose.coverage import GROUP_SIZES, QUICK_MINUTES, Coverage, Figures
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import SourceKind
from diagnose.show.layout import Page
from diagnose.show.words import plural

KINDS: Mapping[SourceKind, str] = {"published": "published", "common-practice": "practice", "memory": "memory", "computed": "computed"}


def coverage_page(coverages: Sequence[Coverage], chosen: Coverage, book: Book, width: int) -> Page:
    """The whole book by stage and looks; the chosen one by system; then what no look shows, and what none parts."""
    page = Page(width)
    titles = {s.id: s.title for s in book.words.systems}
    page.line("What the looks of this book find and part", "bold")
    page.labelled("", "Each fault in one stage and alone; the likeliest grade of every sign that some check tells. Shares in 100, of IEEE "
                  "Std 1522: faults detected, and of those the share in a group of at most so many that all looks answer alike; in "
                  f"brackets weighted by rate. A quick look takes {QUICK_MINUTES:g} minutes or less and spoils nothing.", label_width=2)
    page.line()
    page.line(_head("whole book"))
    for coverage in coverages:
        page.line(_row(_named(coverage), coverage.whole))
    page.line()
    page.line(_head(_named(chosen)))
    for system, figures in chosen.by_system.items():
        page.line(_row(titles[system], figures))
    page.line()
    page.line("Where statements about faults come from", "bold")
    page.line(f"{'':<30}" + "".join(f"{word:>10}" for word in KINDS.values()))
    for system, counts in chosen.sources.items():
        page.line(f"{titles[system][:29]:<30}" + "".join(f"{counts.get(kind, 0):>10}" for kind in KINDS))
    page.line()
    harmless = [g for g in chosen.groups if g.jobs]
    open_groups = [g for g in chosen.groups if not g.jobs]
    page.line(f"Shown by no look: {plural(len(chosen.undetected), 'fault')}", "bold")
    _listed(page, chosen.undetected)
    page.line(f"Parted by no look, and cured by different jobs: {plural(len(open_groups), 'group')}", "bold")
    _listed(page, (", ".join(g.faults) for g in open_groups))
    page.line(f"Parted by no look, but one job cures all: {plural(len(harmless), 'group')}", "bold")
    _listed(page, (f"{', '.join(g.faults)}: {g.jobs[0]}" for g in harmless))
    return page


def _listed(page: Page, texts: Iterable[str]) -> None:
    for text in texts:
        page.labelled("", text, label_width=2)


def _named(coverage: Coverage) -> str:
    return f"{coverage.stage} stage, {coverage.looks} looks"


def _head(title: str) -> str:
    return f"{title:<30}{'faults':>7}{'detected':>14}" + "".join(f"{'alone' if n == 1 else f'of {n}':>14}" for n in GROUP_SIZES)


def _row(title: str, f: Figures) -> str:
    shares = [(f.detected, f.detected_by_rate), *((f.isolated[n], f.isolated_by_rate[n]) for n in GROUP_SIZES)]
    return f"{title[:29]:<30}{f.faults:>7}" + "".join(f"{f'{a * 100:.0f} ({b * 100:.0f})':>14}" for a, b in shares)
