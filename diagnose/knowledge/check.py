"""`rules check`: everything that must hold, everything that should, and every example, in one report."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.examples import run_examples
from diagnose.knowledge.integrity import Problem, problems
from diagnose.knowledge.lint import lints
from diagnose.knowledge.load import build, digest_of, read_all, shipped
from diagnose.knowledge.order import out_of_order
from diagnose.knowledge.text import Document, parse


@dataclass(frozen=True)
class Report:
    """Lines to print, a closing line, and whether anything is wrong."""

    lines: tuple[str, ...]
    summary: str
    broken: bool


def check_rules(folder: Path | None = None) -> Report:
    """Check a folder of rules (the shipped one by default). Stops at the first layer that is broken.

    Raises:
        RuleError: a file cannot be read or parsed at all.
    """
    texts = read_all(folder or shipped("rules"))
    book = build(texts, digest_of(texts))
    documents = {name: parse(text, name) for name, text in texts.items()}
    broken = [_line(p, book, documents) for p in problems(book)]
    if broken:
        return Report(tuple(broken), f"{len(broken)} broken", True)
    from diagnose.coverage import unparted  # it looks through the network, which stands above this package

    lines = [_line(p, book, documents) for p in (*lints(book), *unparted(book))]
    lines += [_line(p, book, documents) for document in documents.values() for p in out_of_order(document)]
    for failure in run_examples(book):
        where = documents[book.files[failure.component]].where(("examples", failure.index))
        lines.append(f"{where}: example '{failure.example}': {failure.what}")
    examples = sum(len(c.examples) for c in book.components)
    summary = (f"{len(book.faults)} faults, {len(book.symptoms)} symptoms, {len(book.conditions)} conditions, {len(book.checks)} checks, "
               f"{len(book.jobs)} jobs, {len(book.rules)} rules, {examples} examples: "
               + (f"{len(lines)} to mend" if lines else "all in order"))
    return Report(tuple(lines), summary, bool(lines))


def _line(problem: Problem, book: Book, documents: dict[str, Document]) -> str:
    error: DiagnoseError = problem.located(book, documents)
    return str(error)
