"""What is made once from a book and kept with it: the chains, the networks by arrangement, ends of stages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diagnose.chain.compile import boat_fact
from diagnose.chain.engine import Chainer, EngineName
from diagnose.chain.form import Outcome
from diagnose.knowledge.book import Book
from diagnose.network.blueprint import Blueprint
from diagnose.network.nodes import Array, Net

MOST_KEPT = 40_000
MOST_HISTORIES = 50
MOST_NETS = 64
MOST_ARRANGEMENTS = 500


@dataclass
class Machinery:
    """A book ready to work. Holds nothing of any case; safe to use for case after case in one thread."""

    book: Book
    chainer: Chainer
    blueprint: Blueprint
    _nets: dict[frozenset[str], Net] = field(default_factory=dict)
    _arrangements: dict[tuple[tuple[str, object], ...], Outcome] = field(default_factory=dict)
    ends: dict[tuple[object, ...], Array] = field(default_factory=dict)
    priors: dict[tuple[object, ...], dict[str, Array]] = field(default_factory=dict)

    @classmethod
    def of(cls, book: Book, engine: EngineName | None = None) -> Machinery:
        """The machinery of a book, made at the first use and kept on the book."""
        kept: dict[EngineName | None, Machinery] = book.__dict__.setdefault("_machinery", {})
        if engine not in kept:
            kept[engine] = cls(book, Chainer.of(book, engine), Blueprint.of(book))
        machinery = kept[engine]
        if len(machinery.ends) > MOST_KEPT:
            machinery.ends.clear()
        if len(machinery.priors) > MOST_HISTORIES:
            machinery.priors.clear()
        return machinery

    def arrangement(self, facts: Mapping[str, str | float | bool]) -> Outcome:
        """What follows from the facts of a boat: which evidence, checks and looks are live."""
        key = tuple(sorted(facts.items()))
        if key not in self._arrangements:
            if len(self._arrangements) >= MOST_ARRANGEMENTS:
                self._arrangements.clear()
            self._arrangements[key] = self.chainer.arrangement([boat_fact(name, value) for name, value in key])
        return self._arrangements[key]

    def net(self, live: frozenset[str]) -> Net:
        """The network under the switches that are live."""
        if live not in self._nets:
            if len(self._nets) >= MOST_NETS:
                self._nets.clear()
            self._nets[live] = self.blueprint.net(live)
        return self._nets[live]
