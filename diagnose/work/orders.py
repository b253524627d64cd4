"""The order list of a piece of work: every part once, by system, with what is aboard, what is to buy, and the questions to answer first.

Counts of several jobs add up, but for parts that only shared set-ups and steps use: those are used once, and the largest count stands.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence

from diagnose.errors import InputError
from diagnose.knowledge.jobs import Job, Part
from diagnose.work import ownwords
from diagnose.work.ground import Ground
from diagnose.work.results import OrderLine, OrderList, Task

COLUMNS = ("system", "part", "title", "count", "unit", "need", "only_when_apart", "aboard", "buy", "holds_up", "lead_days", "variants",
           "notes", "jobs")
SOME = "some"
"""Stands in the file where some is aboard and how much is not known."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


def order_list(ground: Ground, jobs: Sequence[Job], tasks: Sequence[Task], extras: Sequence[Job] = ()) -> OrderList:
    """Everything to have before the first bolt, and what is worth having.

    Args:
        ground: the case.
        jobs: of the plan.
        tasks: of these jobs done as one.
        extras: jobs that may be done while it is open: their parts are worth having, and not required.
    """
    extras = [j for j in extras if j not in jobs]
    asked: dict[str, list[tuple[Job, Part]]] = {}
    for job in (*jobs, *extras):
        for part in ground.parts_of(job):
            optional = job in extras and part.need == "must"
            asked.setdefault(part.part, []).append((job, part.model_copy(update={"need": "usual"}) if optional else part))
    for task in tasks:
        for name in task.uses:
            if name not in asked:  # what putting a set-up back takes, where no job orders it
                asked[name] = [(ground.book.jobs[task.of[0]], Part(part=name))]
    systems = {s.id: i for i, s in enumerate(ground.book.words.systems)}
    lines = [_line(ground, name, wants, tasks) for name, wants in asked.items()]
    lines.sort(key=lambda line: (systems.get(line.system, len(systems)), line.need == "usual", line.only_when_apart, line.part))
    return OrderList(
        lines=tuple(lines), confirm=tuple(dict.fromkeys(q for j in jobs for q in j.confirm_before_ordering)),
        lead_days=max((line.lead_days for line in lines if line.holds_up), default=0.0))


def _line(ground: Ground, name: str, wants: Sequence[tuple[Job, Part]], tasks: Sequence[Task]) -> OrderLine:
    words = ground.book.words
    count = _count(name, wants, tasks)
    unit = next((p.unit for _, p in wants if p.unit is not None), None)
    aboard = _aboard(ground, name, unit)
    notes = [*ownwords.of_part(name, ground.book), *(p.note for _, p in wants if p.note is not None)]
    if aboard is None:
        notes.append("some is aboard: see that it is enough")
    must, apart = any(p.need == "must" for _, p in wants), all(p.only_when_apart for _, p in wants)
    return OrderLine(
        part=name, title=words.parts.get(name, name), system=ground.book.component_of[wants[0][0].id].system, count=count, unit=unit,
        need="must" if must else "usual", only_when_apart=apart,
        aboard=aboard, buy=0.0 if aboard is None else max(0.0, count - aboard),
        holds_up=must and not apart and aboard is not None and aboard < _at_work(name, count, tasks), lead_days=ground.lead_days([name]),
        variants=_variants(ground, name), notes=tuple(dict.fromkeys(notes)),
        jobs=tuple(dict.fromkeys(j.id for j, _ in wants)))


def _variants(ground: Ground, name: str) -> tuple[str, ...]:
    """What its look-alikes differ in; nothing where it is known which of them this boat takes."""
    ordering = ground.book.words.ordering
    return () if name not in ordering or ownwords.variant_known(name, ground.book) else ordering[name].variants


def _count(name: str, wants: Sequence[tuple[Job, Part]], tasks: Sequence[Task]) -> float:
    per_job: Counter[str] = Counter()
    for job, part in wants:
        per_job[job.id] += part.count  # type: ignore[assignment]
    using = [t for t in tasks if name in t.uses or name in t.renews.values()]
    shared = bool(using) and all(set(per_job) <= set(t.of) for t in using)
    return float(max(per_job.values()) if shared else sum(per_job.values()))


def _at_work(name: str, count: float, tasks: Sequence[Task]) -> float:
    """How many the work itself takes: where a part only comes in place of things, as many as those; the rest are spares."""
    renewed = sum(part == name for t in tasks for part in t.renews.values())
    return min(count, float(renewed)) if renewed and not any(name in t.uses for t in tasks) else count


def _aboard(ground: Ground, name: str, unit: str | None) -> float | None:
    """How many are aboard; of what is measured out, None where some is and nobody said how much."""
    spares = Counter(ground.case.trip.aboard.spares)[name]
    if unit == "L" and name == ground.book.words.meant.coolant_part and ground.situation.coolant_aboard > 0:
        return ground.situation.coolant_aboard
    if name not in ground.situation.parts:
        return 0.0
    return float(spares) if unit is None and spares else None


# ------------------------------------------------------------------ as a table


def to_csv(order: OrderList) -> str:
    """The list as a table: one line a part, RFC 4180, cells that a spreadsheet would take for a formula marked by an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for line in order.lines:
        aboard = SOME if line.aboard is None else f"{line.aboard:g}"
        writer.writerow(_guarded(cell) for cell in (
            line.system, line.part, line.title, f"{line.count:g}", line.unit or "", line.need, _yes(line.only_when_apart),
            aboard, f"{line.buy:g}", _yes(line.holds_up), f"{line.lead_days:g}", _one(line.variants), _one(line.notes), _one(line.jobs)))
    return out.getvalue()


def from_csv(text: str) -> tuple[OrderLine, ...]:
    """The lines of such a table.

    Raises:
        InputError: other columns, or a cell that does not fit.
    """
    rows = csv.reader(io.StringIO(text, newline=""))
    if tuple(next(rows, ())) != COLUMNS:
        raise InputError("is not an order list", right=f"columns {', '.join(COLUMNS)}")
    found = []
    for number, row in enumerate(rows, 2):
        cells = dict(zip(COLUMNS, map(_bare, row), strict=False))
        try:
            apart = ("unit", "aboard", "variants", "notes", "jobs", "only_when_apart", "holds_up")
            fields = {k: v for k, v in cells.items() if k not in apart}
            found.append(OrderLine.model_validate({
                **fields, "unit": cells["unit"] or None, "aboard": None if cells["aboard"] == SOME else cells["aboard"],
                "only_when_apart": cells["only_when_apart"] == "yes", "holds_up": cells["holds_up"] == "yes",
                **{k: _many(cells[k]) for k in ("variants", "notes", "jobs")}}))
        except (KeyError, ValueError) as error:
            raise InputError("does not fit an order list", where=f"line {number}", right=", ".join(COLUMNS)) from error
    return tuple(found)


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _guarded(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _bare(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell


def _one(items: Sequence[str]) -> str:
    return " | ".join(item.replace("\\", "\\\\").replace("|", "\\|") for item in items)


def _many(cell: str) -> tuple[str, ...]:
    """The items of a cell; a bar that belongs to an item stands behind a backslash."""
    items, item, i = [], "", 0
    while i < len(cell):
        if cell[i] == "\\" and i + 1 < len(cell):
            item, i = item + cell[i + 1], i + 2
        elif cell.startswith(" | ", i):
            items.append(item)
            item, i = "", i + 3
        else:
            item, i = item + cell[i], i + 1
    return (*items, item) if cell else ()
