"""The kinds of boat a case may be about: facts that are not known and would change what the evidence means."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from diagnose.chain.compile import LIVE
from diagnose.chain.form import Outcome
from diagnose.machinery import Machinery
from diagnose.network.nodes import Net
from diagnose.situation import Situation

MOST_WORLDS = 4


@dataclass(frozen=True)
class Kind:
    """One kind of boat: its chance, what follows from its facts, its network."""

    chance: float
    values: dict[str, str]
    arrangement: Outcome
    live: frozenset[str]
    net: Net


def kinds_of(machinery: Machinery, situation: Situation, signs: frozenset[str]) -> tuple[list[Kind], tuple[str, ...]]:
    """The kinds to weigh, the assumed one first, and the facts that are mixed over.

    Kinds that explain the signs seen through the same links are one kind; at most four are weighed, the
    commonest, which is said by the caller.
    """
    assumed = _kind(machinery, situation, {}, 1.0)
    unknown = [f for f in machinery.book.boat.facts if f.chances and f.id not in situation.known_facts]
    if not unknown or not signs:
        return [assumed], ()
    found: dict[tuple[tuple[str, str], ...], list[Kind]] = {}
    combinations = itertools.product(*(sorted(f.chances.items()) for f in unknown if f.chances))
    for values in combinations:
        chance = 1.0
        for _, p in values:
            chance *= p
        kind = _kind(machinery, situation, {f.id: v for f, (v, _) in zip(unknown, values, strict=True)}, chance)
        if not all(s in kind.net.index for s in signs):
            continue  # what was looked at is not there on such a boat
        found.setdefault(_links_above(kind.net, signs), []).append(kind)
    if not found:
        return [assumed], ()
    if len(found) == 1:
        (only,) = found.values()
        lead = assumed if all(s in assumed.net.index for s in signs) else max(only, key=lambda k: (k.chance, sorted(k.values.items())))
        return [Kind(1.0, lead.values, lead.arrangement, lead.live, lead.net)], ()
    default = _links_above(assumed.net, signs)
    merged = []
    for signature, kinds in found.items():
        chance = sum(k.chance for k in kinds)
        lead = assumed if signature == default else max(kinds, key=lambda k: (k.chance, sorted(k.values.items())))
        merged.append((signature != default, -chance, Kind(chance, lead.values, lead.arrangement, lead.live, lead.net)))
    merged.sort(key=lambda m: (m[0], m[1], sorted(m[2].values.items())))
    kept = [m[2] for m in merged[:MOST_WORLDS]]
    total = sum(k.chance for k in kept)
    mixed = tuple(f.id for f in unknown if len({k.values.get(f.id, str(f.default)) for k in kept}) > 1)
    return [Kind(k.chance / total, k.values, k.arrangement, k.live, k.net) for k in kept], mixed


def _kind(machinery: Machinery, situation: Situation, values: dict[str, str], chance: float) -> Kind:
    facts = {**situation.facts, **values}
    arrangement = machinery.arrangement(facts)
    live = frozenset(str(f["n"]) for f in arrangement.facts.values() if str(f["n"]).startswith(LIVE))
    return Kind(chance, values, arrangement, live, machinery.net(live))


def _links_above(net: Net, signs: frozenset[str]) -> tuple[tuple[str, str], ...]:
    """All links that lead to the signs, by name."""
    todo = sorted(net.index[s] for s in signs if s in net.index)
    links: set[tuple[str, str]] = set()
    done: set[int] = set()
    while todo:
        node = todo.pop()
        if node in done:
            continue
        done.add(node)
        for link in net.parents[node]:
            links.add((net.ids[link.parent], net.ids[node]))
            todo.append(link.parent)
    return tuple(sorted(links))
