"""The looks of a case: which checks can be made now, what each could show, and what it would decide.

Joins the book's checks to `diagnose.inquiry`: costs from minutes, set-ups, what is used up or destroyed;
results as exact chances from the belief; the loss from the trip.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.assessment import Hold, Result, SuggestedCheck
from diagnose.chain.compile import is_live
from diagnose.errors import TooWideError
from diagnose.inquiry import Inquiry, Loss, Option, Outcomes, Worth, lead
from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import RUNNING, Check, EngineState
from diagnose.knowledge.worksteps import put_back
from diagnose.network.belief import Answers, Belief, Query
from diagnose.network.nodes import Array, sign_id, steps
from diagnose.network.screen import expect_signs
from diagnose.prognosis import Prognosis, stay_hours
from diagnose.situation import GATE_SURENESS, Situation
from diagnose.wording import mid_sentence

MOST_CELLS = 18
MOST_OPTIONS = 24
MOST_FEATURES = 24
MOST_EXACT = 3
SHOWN = 3
NEARLY_SURE, UNLIKELY = 0.9, 0.1
"""A look this sure to find nothing does not come first for a fault less likely than that."""
UNSURE_DISCOUNT = 0.5
DESTROYED_MINUTES = 15.0
USED_UP_MINUTES = 20.0
LEFT_UNFOUND_MINUTES = 180.0
"""What a fault that is there and left alone costs at the least: it has to be found some other day."""
ORDER_MINUTES = 60.0
"""What a part ordered in vain costs."""


@dataclass(frozen=True)
class _Grid:
    """The rows of results of some looks: by sign, the last grade of each level told apart."""

    signs: tuple[str, ...]
    tops: tuple[tuple[int, ...], ...]

    @property
    def shape(self) -> tuple[int, ...]:
        return tuple(len(t) for t in self.tops)


class Looks:
    """Plans the looks of one case."""

    def __init__(self, book: Book, situation: Situation, belief: Belief, answers: Answers, prognosis: Prognosis,
                 live: frozenset[str], holds: Sequence[Hold], concern: frozenset[str],
                 states: Collection[EngineState] | None = None, without: Collection[str] = ()) -> None:
        self._book, self._situation, self._belief = book, situation, belief
        self._answers, self._prognosis, self._live = answers, prognosis, live
        self._concern, self._states, self._without = concern, states, without
        self._held = any(h.keeps_in for h in holds)
        self._stopped = any(h.keeps_stopped for h in holds)
        self._asked_first = [h.first_look for h in holds if h.first_look is not None]
        self._features = self._find_features()
        self._options, self._checks = self._find_options()

    # -------------------------------------------------------------- what matters

    def _find_features(self) -> list[str]:
        """The faults spoken for whose chance could move a decision, most telling first."""
        weight = []
        for name in sorted(self._concern):
            fault = self._book.faults.get(name)
            if fault is not None and name in self._answers.mass:
                mass = self._answers.states(name)[1:]
                risk = float(mass @ np.minimum(self._prognosis.stage_losses(fault), 500.0))
                weight.append((-(risk + 2.0 * float(mass.sum())), name))
        net = self._belief.worlds[0].net
        return [name for _, name in sorted(weight)[:MOST_FEATURES] if name in net.index]

    def _find_options(self) -> tuple[list[Option], dict[str, Check]]:
        reach = self._reach(self._features[:14])
        seen = {sign_id(s.symptom, s.state) for s in self._situation.seen if s.epoch == "now" and s.sure >= GATE_SURENESS}
        unsure = {o.symptom for o in self._situation.not_seen}
        scored = []
        for check in self._book.checks.values():
            if not self._possible(check):
                continue
            signs = [sign_id(s, check.needs.engine_state) for s in check.tells]
            open_signs = [s for s in signs if s not in seen and s in reach]
            if open_signs or (check.id in self._asked_first and not seen.issuperset(signs)):
                scored.append((-sum(reach[s] for s in open_signs), check))
        scored.sort(key=lambda pair: (pair[1].id not in self._asked_first, pair[0], pair[1].id))
        checks = {check.id: check for _, check in scored[:MOST_OPTIONS]}
        options = [Option(c.id, self._minutes(c), frozenset(c.needs.setups),
                          UNSURE_DISCOUNT if unsure & set(c.tells) else 1.0) for _, c in sorted(checks.items())]
        return options, checks

    def _reach(self, faults: Sequence[str]) -> dict[str, float]:
        """Signs below the faults that matter, with how much of them hangs on each."""
        net = self._belief.worlds[0].net
        weight: dict[int, float] = {net.index[f]: 1.0 / (1 + i) for i, f in enumerate(faults) if f in net.index}
        for node in range(len(net.ids)):
            for link in net.children[node]:
                if node in weight:
                    strength = float(1.0 - link.table[-1, 0])
                    weight[link.child] = max(weight.get(link.child, 0.0), weight[node] * strength)
        return {net.ids[n]: w for n, w in weight.items() if net.kinds[n] == "sign"}

    def _possible(self, check: Check) -> bool:
        applies = self._book.component_of[check.id].applies
        barred = self._stopped and (check.turns_her or check.needs.engine_state in RUNNING)
        left_out = check.id in self._without or (self._states is not None and check.needs.engine_state not in self._states)
        return is_live(check.live_when, self._live) and is_live(applies, self._live) and not barred and not left_out

    def _minutes(self, check: Check) -> float:
        cost = check.cost.first_time + 0.1 * check.cost.wait_minutes
        cost += DESTROYED_MINUTES * len(check.destroys) + USED_UP_MINUTES * len(check.uses_up)
        return cost + check.strands * self._prognosis.losses["engine-lost"] * 60.0

    # -------------------------------------------------------------- the loss

    def _loss(self) -> Loss:
        """Leave; leave with limits; stay. Every fault counts twice over: for its risk on the way, and for being left.

        A job done now takes both away. One whose parts are not aboard can only be ordered when leaving: that takes
        the second, if it is the right part.
        """
        book, names = self._book, self._features
        stay = stay_hours(book, self._situation) * 60.0
        risk = np.concatenate([60.0 * self._prognosis.stage_losses(book.faults[n]) for n in names])
        eased = np.concatenate([60.0 * self._prognosis.stage_losses(book.faults[n], limited=True) for n in names])
        left = np.full(len(risk), LEFT_UNFOUND_MINUTES)
        owner = [n for n in names for _ in book.faults[n].stages]
        jobs = self._job_of(names)
        columns = sorted({j.id for j in jobs.values()})
        mine = np.array([[float(o in jobs and jobs[o].id == c) for o in owner] for c in columns]).reshape(len(columns), -1)
        here = np.array([self._parts_here(book.jobs[c]) for c in columns], dtype=bool)
        away = ~here
        never = np.zeros(len(columns), dtype=bool)
        return Loss(
            base=np.array([np.inf, np.inf, stay]) if self._held else np.array([0.0, 10.0, stay]),
            weight=np.array([np.concatenate([w, left]) for w in (risk, eased, np.minimum(risk, 0.5 * stay))]),
            repair=np.array([book.jobs[c].minutes.first_time for c in columns] + [ORDER_MINUTES] * len(columns)),
            cures=np.vstack([np.hstack([mine, mine]), np.hstack([np.zeros_like(mine), mine])]),
            allowed=np.array([np.concatenate(pair) for pair in ((here, away), (here, away), (here | away, never))]),
        )

    def _job_of(self, names: Sequence[str]) -> dict[str, Job]:
        """One job a fault, the quickest."""
        return {n: min(self._book.jobs_for[n], key=lambda j: (j.minutes.first_time, j.id)) for n in names if n in self._book.jobs_for}

    def _parts_here(self, job: Job) -> bool:
        return job.afloat and all(p.part in self._situation.parts for p in job.order if p.need == "must")

    # -------------------------------------------------------------- results

    def _grid(self, options: Sequence[Option]) -> _Grid:
        """Levels told apart: all grades where there is room, else none and worse."""
        net = self._belief.worlds[0].net
        signs: list[str] = []
        for option in options:
            check = self._checks[option.id]
            signs += [s for t in check.tells if (s := sign_id(t, check.needs.engine_state)) in net.index
                      and s not in signs and s not in self._belief.likelihoods]
        sizes = [net.sizes[net.index[s]] for s in signs]
        while math.prod(sizes) > MOST_CELLS and max(sizes) > 2:
            widest = max(range(len(sizes)), key=lambda i: (sizes[i], i))
            sizes[widest] -= 1
        keep = len(signs)
        while math.prod(sizes[:keep]) > MOST_CELLS:
            keep -= 1
        tops = [(*range(size - 1), net.sizes[net.index[s]] - 1) for s, size in zip(signs[:keep], sizes[:keep], strict=True)]
        return _Grid(tuple(signs[:keep]), tuple(tops))

    def _outcomes(self, sets: Sequence[tuple[Option, ...]]) -> list[tuple[Array, Array]]:
        grids = [self._grid(s) for s in sets]
        queries = [Query()]
        spans = []
        for grid in grids:
            start = len(queries)
            for cell in itertools.product(*grid.tops):
                queries.append(Query(at_most=dict(zip(grid.signs, cell, strict=True))))
            spans.append((start, len(queries)))
        answers = self._belief.ask(queries, wanted=self._features)
        features = np.concatenate([answers.mass[n][:, 1:] for n in self._features] * 2, axis=1)
        total = np.exp(answers.log_evidence - answers.scale)
        found = []
        for grid, (start, end) in zip(grids, spans, strict=True):
            found.append((_exact(total[start:end].reshape(grid.shape)).reshape(-1),
                          _exact(features[start:end].reshape(*grid.shape, -1), keep_last=True).reshape(end - start, -1)))
        return found

    # -------------------------------------------------------------- the plan

    def plan(self) -> tuple[SuggestedCheck, ...]:
        """The looks worth making, the next one first; empty when none pays.

        All candidates are screened; those that lead are then weighed exactly, and only they are shown.
        """
        if not self._options or not self._features:
            return ()
        loss = self._loss()
        setups = {name: s.minutes for name, s in self._book.words.setups.items()}
        screened = Inquiry(self._options, loss, self._screen(), frozenset(), setups, most_bundles=2, most_members=6)
        ordered, bundle = screened.ranked()
        by_net = sorted((w for w in ordered if w.value > 0), key=lambda w: (-w.net, w.options[0].id))
        leaders = [w.options[0] for w in by_net[:MOST_EXACT]]
        if bundle is not None:
            leaders = [*bundle.options, *(o for o in leaders if o not in bundle.options)][: max(MOST_EXACT, len(bundle.options))]
        asked = next((o for name in self._asked_first for o in self._options if o.id == name and self._grid((o,)).signs), None)
        if asked is not None and asked not in leaders:
            leaders = [*leaders, asked]
        rows = self._weighed(leaders)
        exact = Inquiry(leaders, loss, lambda sets: [rows[s[0].id] for s in sets], frozenset(), setups)
        return self._chosen(exact.worth([(o,) for o in leaders]), rows, bundle, asked)

    def _chosen(self, singles: Sequence[Worth], rows: dict[str, tuple[Array, Array]], bundle: Worth | None,
                asked: Option | None) -> tuple[SuggestedCheck, ...]:
        """What a stop asks to be looked at first; then what is worth most, a look nearly sure to find nothing last."""
        fertile = [w for w in singles if not self._barren(w.options[0], rows[w.options[0].id])]
        chosen = lead(fertile, bundle if bundle is not None and all(o in {w.options[0] for w in fertile} for o in bundle.options) else None)
        if chosen is None:
            chosen = lead(singles, bundle)
        if asked is not None:
            chosen = next(w for w in singles if w.options[0] == asked), ()
        if chosen is None:
            return ()
        first, partners = chosen
        others = sorted((w for w in singles if w.net > 0 and w is not first and w.options[0] not in partners),
                        key=lambda w: (w not in fertile, -w.net, w.options[0].id))
        return (self._shown(first, rows, tuple(o.id for o in partners)), *(self._shown(w, rows, ()) for w in others[: SHOWN - 1]))

    def _barren(self, option: Option, rows: tuple[Array, Array]) -> bool:
        """Whether a look is nearly sure to find nothing, and the fault it is after is unlikely."""
        total, features = rows
        if not len(self._grid((option,)).signs) or total[0] / max(total.sum(), 1e-300) < NEARLY_SURE:
            return False
        return self._most_moved(self._by_fault(features), total)[1] < UNLIKELY

    def _weighed(self, options: Sequence[Option]) -> dict[str, tuple[Array, Array]]:
        """The exact rows of each look, asked together; where that would be too wide, the screened ones."""
        sets = [(o,) for o in options]
        try:
            rows = self._outcomes(sets)
        except TooWideError:
            rows = self._screen()(sets)
        return {o.id: r for o, r in zip(options, rows, strict=True)}

    def _screen(self) -> Outcomes:
        """Quick rows for any set of looks."""
        net = self._belief.worlds[0].net
        marginal = {net.index[n]: self._answers.states(n) for n in self._answers.mass if n in net.index}
        suppose = [(net.index[n], s + 1) for n in self._features for s in range(len(self._book.faults[n].stages))]
        present = np.concatenate([self._answers.states(n)[1:] for n in self._features])
        signs = sorted({net.index[s] for o in self._options for s in self._grid((o,)).signs})
        expected = expect_signs(net, marginal, suppose, signs)

        def rows(sets: Sequence[tuple[Option, ...]]) -> list[tuple[Array, Array]]:
            found = []
            for options in sets:
                grid = self._grid(options)
                table = np.ones((len(suppose) + 1, 1))
                for sign, tops in zip(grid.signs, grid.tops, strict=True):
                    exact = steps(expected[net.index[sign]][:, list(tops)])
                    table = (table[:, :, None] * exact[:, None, :]).reshape(len(suppose) + 1, -1)
                joint = (present[:, None] * table[1:]).T
                found.append((table[0], np.hstack([joint, joint])))
            return found

        return rows

    def _shown(self, worth: Worth, rows: dict[str, tuple[Array, Array]], together: tuple[str, ...]) -> SuggestedCheck:
        option = worth.options[0]
        check = self._checks[option.id]
        setups = [self._book.words.setups[s] for s in check.needs.setups]
        results, about = self._results(check, option, rows[option.id])
        return SuggestedCheck(
            check=check.id, title=check.title, minutes=check.cost.first_time, setup_minutes=sum(s.minutes for s in setups),
            setups=tuple(s.title for s in setups), needs=check.needs.engine_state, value=worth.value, net=worth.net,
            together_with=together, why_now=about, steps=check.steps,
            restore=put_back(self._book, (check.id,)),
            cautions=check.cautions, results=results,
        )

    def _results(self, check: Check, option: Option, rows: tuple[Array, Array]) -> tuple[tuple[Result, ...], str]:
        total, features = rows
        grid = self._grid((option,))
        net = self._belief.worlds[0].net
        by_fault = self._by_fault(features)
        shown = []
        for row, cell in enumerate(itertools.product(*grid.tops)):
            chance = float(total[row])
            if chance < 0.01:
                continue
            after = by_fault[row] / chance
            first = int(np.argmax(np.round(after, 9)))
            seen = {}
            for sign, top, tops in zip(grid.signs, cell, grid.tops, strict=True):
                symptom = self._book.symptoms[sign.partition("@")[0]]
                grades = list(symptom.grades)
                low = 0 if top == tops[0] else tops[tops.index(top) - 1] + 1
                full = low == top or net.sizes[net.index[sign]] == len(tops)
                seen[symptom.id] = grades[top] if full else f"{grades[low]} or worse"
            means = next((r.means for r in check.reading if r.seen and all(seen.get(s) == g for s, g in r.seen.items())), None)
            shown.append(Result(seen=seen, chance=round(chance, 6), first=self._features[first],
                                first_probability=round(float(after[first]), 6), means=means))
        shown.sort(key=lambda r: (-r.chance, sorted(r.seen.items())))
        return tuple(shown[:4]), self._about(by_fault, total)

    def _by_fault(self, features: Array) -> Array:
        """Chance of each row and of each fault in it, its stages added up."""
        sizes = [len(self._book.faults[n].stages) for n in self._features]
        ends = np.cumsum(sizes)
        return np.column_stack([features[:, e - s : e].sum(axis=1) for s, e in zip(sizes, ends, strict=True)])

    @staticmethod
    def _most_moved(by_fault: Array, total: Array) -> tuple[int, float]:
        """The fault a look tells most about, and its chance now."""
        now = by_fault.sum(axis=0)
        moved = np.abs(by_fault - total[:, None] * now).sum(axis=0)
        most = int(np.argmax(np.round(moved, 9)))
        return most, float(now[most])

    def _about(self, by_fault: Array, total: Array) -> str:
        """What the look tells most about, in words."""
        most, now = self._most_moved(by_fault, total)
        sure = total > 0.01
        after = by_fault[sure, most] / total[sure]
        title = self._book.faults[self._features[most]].title
        return (f"{mid_sentence(title)}: {now * 100:.0f} in 100 now, "
                f"{after.min() * 100:.0f} to {after.max() * 100:.0f} after it")


def _exact(table: Array, *, keep_last: bool = False) -> Array:
    """Exact chances from cumulative ones, along every axis of the grid."""
    for axis in range(table.ndim - int(keep_last)):
        table = steps(table, axis)
    return np.maximum(table, 0.0)
