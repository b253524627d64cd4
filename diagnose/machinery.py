"""What is made once from a book and kept with it: the chains, the networks by arrangement, ends of stages."""

from __future__ import annotations

from dataclasses import dataclass, field

from diagnose.chain.engine import Chainer, EngineName
from diagnose.knowledge.book import Book
from diagnose.network.nodes import Array, Net, book_net

MOST_KEPT = 5000
MOST_HISTORIES = 50
MOST_NETS = 24


@dataclass
class Machinery:
    """A book ready to work. Holds nothing of any case; safe to use for case after case in one thread."""

    book: Book
    chainer: Chainer
    _nets: dict[frozenset[str], Net] = field(default_factory=dict)
    ends: dict[tuple[object, ...], Array] = field(default_factory=dict)
    priors: dict[tuple[object, ...], dict[str, Array]] = field(default_factory=dict)

    @classmethod
    def of(cls, book: Book, engine: EngineName | None = None) -> Machinery:
        """The machinery of a book, made at the first use and kept on the book."""
        kept: dict[EngineName | None, Machinery] = book.__dict__.setdefault("_machinery", {})
        if engine not in kept:
            kept[engine] = cls(book, Chainer.of(book, engine))
        machinery = kept[engine]
        if len(machinery.ends) > MOST_KEPT:
            machinery.ends.clear()
        if len(machinery.priors) > MOST_HISTORIES:
            machinery.priors.clear()
        return machinery

    def net(self, live: frozenset[str]) -> Net:
        """The network under the switches that are live."""
        if live not in self._nets:
            if len(self._nets) >= MOST_NETS:
                self._nets.clear()
            self._nets[live] = book_net(self.book, live)
        return self._nets[live]
