"""Which matcher runs here, and the three chains of a book compiled for it once."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from diagnose.chain.compile import Chains, compile_rules
from diagnose.chain.form import Compiled, Fact, Matcher, Outcome
from diagnose.errors import InputError
from diagnose.knowledge.book import Book

EngineName = Literal["durable-rules", "plain"]
_numbers = itertools.count()


def best_engine() -> EngineName:
    """durable-rules where it can be loaded, else the plain matcher."""
    from diagnose.chain import durable

    return "durable-rules" if durable.available() else "plain"


def build(engine: EngineName, rules: tuple[Compiled, ...]) -> Matcher:
    """A matcher of the kind asked for.

    Raises:
        InputError: durable-rules is asked for and cannot be loaded here.
        RuleError: the engine refuses a rule.
    """
    if engine == "plain":
        from diagnose.chain.plain import PlainMatcher

        return PlainMatcher("plain", rules)
    from diagnose.chain import durable

    if not durable.available():
        raise InputError("durable-rules cannot be loaded here", right="the plain matcher, which gives the same results")
    return durable.DurableMatcher(f"chain{next(_numbers)}", rules)


@dataclass
class Chainer:
    """The three chains of one book. What follows from the boat alone is kept, for it is the same each time."""

    engine: EngineName
    chains: Chains
    _matchers: tuple[Matcher, Matcher, Matcher]
    _arrangements: dict[tuple[tuple[str, object], ...], Outcome] = field(default_factory=dict)

    @classmethod
    def of(cls, book: Book, engine: EngineName | None = None) -> Chainer:
        """Compile the book's rules for one engine, the best there is here unless it is named."""
        chosen = engine or best_engine()
        chains = compile_rules(book)
        first, second, third = (build(chosen, rules) for rules in (chains.arrangement, chains.findings, chains.conclusions))
        return cls(chosen, chains, (first, second, third))

    def arrangement(self, facts: Iterable[Fact]) -> Outcome:
        """What follows from the facts of the boat: derived facts, and which evidence is live."""
        given = list(facts)
        key = tuple((str(f["n"]), f.get("s", f.get("v"))) for f in given)
        if key not in self._arrangements:
            if len(self._arrangements) > 256:
                self._arrangements.clear()
            self._arrangements[key] = self._matchers[0].run(given)
        return self._arrangements[key]

    def findings(self, facts: Iterable[Fact]) -> Outcome:
        """What follows from the readings."""
        return self._matchers[1].run(facts)

    def conclusions(self, facts: Iterable[Fact]) -> Outcome:
        """What follows once the chances are known."""
        return self._matchers[2].run(facts)
