"""Several jobs as one piece of work: set-ups made once and undone last in reverse order, shared steps done once, proofs at the end.

Two steps of two jobs of one component are one where they are the same in every word, or where both jobs take the same things off and
both close them again; then both pairs are joined. Across components only set-ups are shared, for there the same word may mean
another thing. A join that would make a circle is not made, nor one of two steps in the same words of which different things were
learned on the boat.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job, ProofMoment, ProofTest, Step
from diagnose.knowledge.own import OwnStep, learned_in, plain_of
from diagnose.knowledge.worksteps import FIRST_TIME, order_of, running_of, setups_of
from diagnose.work import ownwords
from diagnose.work.ground import own_minutes
from diagnose.work.results import Task
from diagnose.work.warned import at_first, at_test

MOMENTS: tuple[ProofMoment, ...] = ("cold", "under-pressure", "first-start", "warm", "under-load", "after-hours")
"""Proofs in the order in which they can be made: at rest, pumped up, at the first start, warm, in gear, and some hours on."""
Running = Mapping[str, tuple[frozenset[str], frozenset[str]]]
"""By job, the steps done before its set-ups are made, and those done when they are put back (`worksteps.running_of`)."""
PROOF_MINUTES = 5.0
"""A proof that the book tells in one sentence (as long as one of its tests where no time is told)."""


@dataclass(frozen=True)
class Node:
    """A step of a job, as it stands in one piece of work: as done on this boat, as the book has it, and what was learned of it."""

    job: str
    step: str
    place: int
    what: Step
    plain: Step
    own: OwnStep | None
    when: tuple[bool, bool] = (False, False)
    """Whether it is done before the set-ups are made, and whether when they are put back."""

    @property
    def name(self) -> str:
        return f"{self.job}/{self.step}"


def merge(jobs: Sequence[Job], book: Book) -> tuple[Task, ...]:
    """The tasks of these jobs done as one, in an order in which they can be done.

    Args:
        jobs: each once; their order does not matter.
        book: that they stand in.
    """
    jobs = sorted({j.id: j for j in jobs}.values(), key=lambda j: j.id)
    setups = _setups_in_order(jobs, book)
    running = {job.id: running_of(job) for job in jobs}
    steps = _step_tasks(jobs, running, book)
    first, last = _running(steps, running)
    proofs = _proof_tasks(jobs, book)
    tasks = [*_setup_tasks(setups, first, jobs, book), *steps, *proofs]
    tasks += _restores(setups, jobs, [t for t in tasks if t.id not in last], proofs, book)
    return in_order(_proofs_after(_running_last(tasks, last, setups, book), book))


def in_order(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """The tasks in an order in which each comes after all it needs; where several can come, the kinds in turn, then by id.

    Raises:
        ValueError: they need one another in a circle.
    """
    by_id = {t.id: t for t in tasks}
    kinds = {"set-up": 0, "step": 1, "proof": 2, "put back": 3}
    sorter = TopologicalSorter({t.id: t.after for t in by_id.values()})
    try:
        sorter.prepare()
    except CycleError as error:
        raise ValueError(f"tasks need one another in a circle: {', '.join(error.args[1])}") from None
    found: list[Task] = []
    ready: list[str] = []
    while sorter.is_active():
        ready = sorted({*ready, *sorter.get_ready()}, key=lambda n: (kinds[by_id[n].kind], n))
        found.append(by_id[ready[0]])
        sorter.done(ready.pop(0))
    return tuple(found)


def minutes_of(tasks: Iterable[Task], hand: str) -> float:
    """Minutes of work in all, hands not counted twice."""
    return sum(float(getattr(t, hand)) for t in tasks)


# ------------------------------------------------------------------ set-ups


def _setups_in_order(jobs: Sequence[Job], book: Book) -> list[str]:
    """Those in which she runs come first: nothing may be shut, slack or apart by then. Then the outermost, then the others."""
    known = book.words.setups
    wanted = setups_of(book, {s for j in jobs for s in j.setups})
    return setups_of(book, sorted(wanted, key=lambda s: (not known[s].runs_her, not known[s].outermost, s)))


def _users(setup: str, jobs: Sequence[Job], book: Book) -> tuple[str, ...]:
    return tuple(j.id for j in jobs if setup in setups_of(book, j.setups))


def _running(steps: Sequence[Task], running: Running) -> tuple[tuple[str, ...], frozenset[str]]:
    """The tasks in which she runs before the set-ups are made, with all before them; and those when they are back, with all after."""
    early, late = (tuple(t.id for t in steps if any(step in running[job][end] for job, step in t.steps)) for end in (0, 1))
    return early, frozenset(late)


def _running_last(tasks: Sequence[Task], last: frozenset[str], setups: Sequence[str], book: Book) -> list[Task]:
    """The tasks, those in which she runs at the end made to wait for the set-ups that are put back before the proofs."""
    kept = _kept_until_proved(setups, book)
    back = tuple(t.id for t in tasks if t.kind == "put back" and t.id.partition(":")[2] not in kept)
    return [t.model_copy(update={"after": (*t.after, *back)}) if t.id in last else t for t in tasks]


def _told_at(setups: Sequence[str], jobs: Sequence[Job], kept: Collection[str], book: Book) -> dict[str, tuple[str, ...]]:
    """By set-up, the cautions of the jobs that begin with it: of those that stay until the proofs the first, else the first of all."""
    told: dict[str, tuple[str, ...]] = {}
    for job in jobs:
        own = sorted((s for s in setups if s in job.setups), key=lambda s: s not in kept)
        if own:
            told[own[0]] = _union((told.get(own[0], ()), at_first(job, book)))
    return told


def _setup_tasks(setups: Sequence[str], first: Sequence[str], jobs: Sequence[Job], book: Book) -> list[Task]:
    """A task for each set-up. All but those that stay until the proofs wait for the steps in which she runs `first`."""
    found, kept = [], _kept_until_proved(setups, book)
    running = setups_of(book, [n for n in setups if book.words.setups[n].runs_her])
    told = _told_at(setups, jobs, kept, book)
    outer = setups_of(book, [n for n in setups if n in running or book.words.setups[n].outermost])
    for name in setups:
        s = book.words.setups[name]
        sooner = () if name in running else running if name in outer or name in kept else outer
        before = tuple(dict.fromkeys((*sooner, *s.needs)))
        after = (*(f"set-up:{n}" for n in before), *(first if name not in kept and name not in running else ()))
        found.append(Task(id=f"set-up:{name}", kind="set-up", of=_users(name, jobs, book), do=s.title, skilled=s.minutes,
                          first_time=FIRST_TIME * s.minutes, after=after, cautions=_union((told.get(name, ()), s.cautions)),
                          own=ownwords.of_setup(name, book)))
    return found


def _kept_until_proved(setups: Sequence[str], book: Book) -> set[str]:
    """Set-ups put back after the proof: those in nobody's way then, and all that they stand on."""
    return set(setups_of(book, [n for n in setups if book.words.setups[n].until_proved]))


def _restores(setups: Sequence[str], jobs: Sequence[Job], tasks: Sequence[Task], proofs: Sequence[Task], book: Book) -> list[Task]:
    """Each set-up put back when the last job that needs it is through, and after every set-up that was made later."""
    kept = _kept_until_proved(setups, book)
    order = [*(n for n in reversed(setups) if n not in kept), *(n for n in reversed(setups) if n in kept)]
    found: list[Task] = []
    for name in order:
        s, users = book.words.setups[name], set(_users(name, jobs, book))
        after = [f"set-up:{name}", *(t.id for t in tasks if t.kind == "step" and users & set(t.of))]
        after += [found[-1].id] if found else []
        after += [p.id for p in proofs] if name in kept else []
        found.append(Task(id=f"put back:{name}", kind="put back", of=tuple(sorted(users)), do=s.restore, skilled=s.restore_minutes,
                          first_time=FIRST_TIME * s.restore_minutes, after=tuple(after), uses=s.uses, cautions=s.cautions,
                          own=ownwords.of_restore(name, book)))
    return found


# ------------------------------------------------------------------ proofs


def _proof_tasks(jobs: Sequence[Job], book: Book) -> list[Task]:
    """The tests of all proofs in the order of their moments, those that say the same made once; tests some hours on are not among them."""
    found: list[Task] = []
    for moment in MOMENTS[:-1]:
        before = _last_moment(found)
        found += [t.model_copy(update={"after": before}) for t in _tests_of(jobs, moment, book)]
    last = _last_moment(found)
    for job in jobs:
        if not any(t.when != "after-hours" for t in job.proof.tests):
            found.append(Task(id=f"proof:9:{job.id}", kind="proof", of=(job.id,), do=job.proof.do, skilled=PROOF_MINUTES,
                              first_time=PROOF_MINUTES, after=last, passes=job.proof.passes, fails=job.proof.fails))
    return found


def later_tests(jobs: Sequence[Job], book: Book) -> tuple[Task, ...]:
    """The tests to be made some engine hours on, the sooner first, those that say the same made once."""
    found = _tests_of(sorted({j.id: j for j in jobs}.values(), key=lambda j: j.id), MOMENTS[-1], book)
    return tuple(sorted(found, key=lambda t: (t.hours or 0.0, t.id)))


def _tests_of(jobs: Sequence[Job], moment: ProofMoment, book: Book) -> list[Task]:
    """The tests of one moment: one for all that say the same, at the same engine state and after as many hours."""
    same: dict[tuple[object, ...], list[tuple[Job, ProofTest]]] = {}
    for job in jobs:
        for test in job.proof.tests:
            if test.when == moment:
                same.setdefault((_plain(test.do), test.state, test.hours), []).append((job, test))
    return [_test(f"proof:{MOMENTS.index(moment)}:{moment}:{n + 1}", tests, book) for n, tests in enumerate(same.values())]


def _test(name: str, tests: Sequence[tuple[Job, ProofTest]], book: Book) -> Task:
    """One test for those that say the same; of two grades allowed the stricter counts."""
    first, longest = tests[0][1], max(test.minutes for _, test in tests)
    worst: dict[str, str] = {}
    for _, test in tests:
        for symptom, grade in test.worst.items():
            grades = list(book.symptoms[symptom].grades)
            worst[symptom] = min(worst.get(symptom, grade), grade, key=grades.index)
    return Task(id=name, kind="proof", of=tuple(dict.fromkeys(j.id for j, _ in tests)), do=first.do, skilled=longest, first_time=longest,
                moment=first.when, passes=_joined(t.passes for _, t in tests), fails=_joined(t.fails for _, t in tests), worst=worst,
                state=first.state, hours=first.hours, cautions=at_test(tests, book))


def _last_moment(found: Sequence[Task]) -> tuple[str, ...]:
    """The tests of the latest moment so far: what comes next waits for them."""
    return tuple(t.id for t in found if t.moment == found[-1].moment) if found else ()


def _joined(texts: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(texts))


def _proofs_after(tasks: Sequence[Task], book: Book) -> list[Task]:
    """The proofs come when everything is closed that must be closed for them."""
    setups = [t.id.partition(":")[2] for t in tasks if t.kind == "set-up"]
    kept = _kept_until_proved(setups, book)
    closed = tuple(t.id for t in tasks if t.kind == "step" or (t.kind == "put back" and t.id.partition(":")[2] not in kept))
    return [t.model_copy(update={"after": (*t.after, *closed)}) if t.kind == "proof" else t for t in tasks]


# ------------------------------------------------------------------ steps


def _step_tasks(jobs: Sequence[Job], running: Running, book: Book) -> list[Task]:
    whole = [_whole(job, book) for job in jobs if not job.steps]
    nodes = _nodes(jobs, running, book)
    before = {f"{job.id}/{step}": tuple(f"{job.id}/{b}" for b in needs) for job in jobs for step, needs in order_of(job).items()}
    same = _joins(nodes, before, {job.id: book.component_of[job.id].component for job in jobs})
    kept = _kept_until_proved([s for job in jobs for s in setups_of(book, job.setups)], book)
    roots = {name: setups for job in jobs for name, setups in _roots(job, running[job.id][0], kept, book).items()}
    by_root: dict[str, list[Node]] = {}
    for node in nodes:
        by_root.setdefault(same.get(node.name, node.name), []).append(node)
    found = []
    for name, members in by_root.items():
        after = dict.fromkeys(same.get(b, b) for m in members for b in before[m.name])
        roots_of = dict.fromkeys(s for m in members for s in roots[m.name])
        found.append(_joined_task(name, members, tuple(n for n in (*after, *roots_of) if n != name), book))
    return [*whole, *found]


def _roots(job: Job, first: Collection[str], kept: Collection[str], book: Book) -> dict[str, tuple[str, ...]]:
    """By step, the set-ups that are made before it; for those in which she runs first only what is in nobody's way then."""
    made = setups_of(book, job.setups)
    clear = [s for s in made if s in kept or book.words.setups[s].runs_her]
    return {f"{job.id}/{step.id}": tuple(f"set-up:{s}" for s in (clear if step.id in first else made)) for step in job.steps}


def _nodes(jobs: Sequence[Job], running: Running, book: Book) -> list[Node]:
    learned, plain = learned_in(book).steps, plain_of(book)
    return [Node(job.id, step.id, place, step, step if (job.id, step.id) not in learned else ownwords.plain_step(plain, job.id, step.id),
                 learned.get((job.id, step.id)), (step.id in running[job.id][0], step.id in running[job.id][1]))
            for job in jobs for place, step in enumerate(job.steps)]


def _whole(job: Job, book: Book) -> Task:
    """A job without steps as one task."""
    return Task(id=f"{job.id}/whole", kind="step", of=(job.id,), do=job.title, skilled=own_minutes(job, book, "skilled"),
                first_time=own_minutes(job, book, "first_time"), after=tuple(f"set-up:{s}" for s in setups_of(book, job.setups)),
                uses=tuple(p.part for p in job.order if p.need == "must"), cautions=job.cautions)


def _joined_task(name: str, members: Sequence[Node], after: tuple[str, ...], book: Book) -> Task:
    """One task for steps that are one: the words of the first, the longest time, everything else of all. Minutes and hands that were
    learned on the boat count before those of the book."""
    steps, places = [m.what for m in members], tuple((m.job, m.step) for m in members)
    times = [m.what.minutes for m in members if m.own is not None and m.own.minutes is not None] or [s.minutes for s in steps]
    hands = [m.own.hands for m in members if m.own is not None and m.own.hands is not None] or [s.hands for s in steps]
    waits = max((s.wait for s in steps if s.wait is not None), key=lambda w: w.minutes, default=None)
    renews = {thing: part for s in reversed(steps) for thing, part in s.renews.items()}
    begun = [at_first(job, book) for m in members if not (job := book.jobs[m.job]).setups and not order_of(job)[m.step]]
    return Task(
        id=name, kind="step", of=tuple(dict.fromkeys(m.job for m in members)), do=steps[0].do,
        skilled=max(t.skilled for t in times), first_time=max(t.first_time for t in times), hands=max(hands),
        wait_minutes=waits.minutes if waits else 0.0, wait_why=waits.why if waits else None, after=after,
        uses=_union(s.uses for s in steps), takes_off=_union(s.takes_off for s in steps),
        puts_back=tuple(t for t in _union(s.puts_back for s in steps) if t not in renews), renews=renews,
        drains=tuple(dict.fromkeys(d for s in steps for d in s.drains)), bares=_union(s.bares for s in steps),
        tools=_union(s.tools for s in steps), cautions=_union((*begun, *(s.cautions for s in steps))),
        holds_two=ownwords.holds_two(places, book), photo=_words(s.photo for s in steps), why=_words(s.why for s in steps),
        own=ownwords.of_steps(places, book), steps=places)


def _union(lists: Iterable[Sequence[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item for items in lists for item in items))


def _words(texts: Iterable[str | None]) -> str | None:
    return _joined(t for t in texts if t) or None


def _plain(text: str) -> str:
    return " ".join(text.lower().split()).rstrip(".")


# ------------------------------------------------------------------ joins


def _joins(nodes: Sequence[Node], before: Mapping[str, Sequence[str]], component: Mapping[str, str]) -> dict[str, str]:
    """By step, the step of another job that it is one with; joins that would make a circle are left out."""
    same: dict[str, str] = {}
    for group in _groups(nodes, component):
        trial = dict(same)
        for one, other in group:
            first, second = sorted((trial.get(one.name, one.name), trial.get(other.name, other.name)))
            trial.update({name: first for name, to in [*trial.items(), (second, second)] if to == second})
        if _possible(trial, before) and _one_of_each_job(trial) and _learned_alike(trial, nodes):
            same = {name: to for name, to in trial.items() if name != to}
    return same


def _groups(nodes: Sequence[Node], component: Mapping[str, str]) -> list[list[tuple[Node, Node]]]:
    """Pairs of steps that are one, those that only go together in one group: taking off, and closing again."""
    found: list[list[tuple[Node, Node]]] = []
    for i, one in enumerate(nodes):
        for other in nodes[i + 1 :]:
            if one.job == other.job or component[one.job] != component[other.job] or one.when != other.when:
                continue
            if one.what.takes_off and set(one.what.takes_off) == set(other.what.takes_off):
                closing = _closing(one, nodes), _closing(other, nodes)
                if closing[0] is not None and closing[1] is not None:
                    found.append([(one, other), (closing[0], closing[1])])
            elif _said(one) == _said(other) and not _moves(one):
                found.append([(one, other)])
    return found


def _said(node: Node) -> Step:
    """A step of the book without its name and its place."""
    return node.plain.model_copy(update={"id": "", "after": None, "do": _plain(node.plain.do)})


def _moves(node: Node) -> bool:
    return bool(node.what.takes_off or node.what.puts_back or node.what.renews)


def _closing(node: Node, nodes: Sequence[Node]) -> Node | None:
    """The step of the same job that puts back, or renews, all that this one takes off, and nothing else."""
    off = set(node.what.takes_off)
    return next((n for n in nodes if n.job == node.job and n.place > node.place and {*n.what.puts_back, *n.what.renews} == off), None)


def _one_of_each_job(same: Mapping[str, str]) -> bool:
    members: dict[str, set[str]] = {}
    for name, to in same.items():
        members.setdefault(to, {to}).add(name)
    return all(len({n.partition("/")[0] for n in group}) == len(group) for group in members.values())


def _learned_alike(same: Mapping[str, str], nodes: Sequence[Node]) -> bool:
    """Whether no two steps joined for their words alone differ in what was learned of them: then they are two things on this boat."""
    told = [n for n in nodes if n.own is not None and not _moves(n)]
    return all(ownwords.agree(one.own, other.own) for i, one in enumerate(told) for other in told[i + 1 :]
               if same.get(one.name, one.name) == same.get(other.name, other.name))


def _possible(same: Mapping[str, str], before: Mapping[str, Sequence[str]]) -> bool:
    graph: dict[str, set[str]] = {}
    for name, needs in before.items():
        graph.setdefault(same.get(name, name), set()).update(same.get(n, n) for n in needs)
    if any(name in needs for name, needs in graph.items()):
        return False
    try:
        TopologicalSorter(graph).prepare()
    except CycleError:
        return False
    return True
