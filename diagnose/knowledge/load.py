"""Read `rules/` into a Book: strict parsing, validation, one digest over all the text, a cache by digest."""

from __future__ import annotations

import contextlib
import gc
import hashlib
import json
import os
import tempfile
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from diagnose.errors import InputError, RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.lists import BoatWords, Calculations, Cautions, Glossary, LookOver, Sources, Words
from diagnose.knowledge.model import Entry
from diagnose.knowledge.text import Document, explain_validation, parse, read_text

SHARED: dict[str, type[Entry]] = {
    "words": Words,
    "boat": BoatWords,
    "cautions": Cautions,
    "sources": Sources,
    "look-over": LookOver,
    "glossary": Glossary,
}
OPTIONAL = ("glossary",)
CACHE_FORM = "4"
"""Raised when the cached form changes."""

_COMPONENTS = TypeAdapter(tuple[Component, ...])
_CALCULATIONS = TypeAdapter(tuple[Calculations, ...])


def shipped(folder: str) -> Path:
    """Where `rules` or `cases` lie: beside the package in a checkout, inside it when installed."""
    beside = Path(__file__).resolve().parents[2] / folder
    if (beside.parent / "pyproject.toml").is_file() and beside.is_dir():
        return beside
    return Path(str(resources.files("diagnose"))) / "_data" / folder


def load_rules(folder: str | Path | None = None) -> Book:
    """The rule base in `folder` (the shipped one by default), validated and indexed.

    Raises:
        RuleError: a file is missing, unreadable, malformed or does not fit the others.
    """
    return load_texts(read_all(Path(folder) if folder is not None else shipped("rules")))


def load_texts(texts: dict[str, str]) -> Book:
    """The rule base from the text of its files, by path.

    Raises:
        RuleError: a file is malformed or does not fit the others.
    """
    return _book(tuple(texts.items()))


@lru_cache(maxsize=4)
def _book(texts: tuple[tuple[str, str], ...]) -> Book:
    digest = digest_of(dict(texts))
    cached = _from_cache(digest, dict(texts))
    if cached is not None:
        return cached
    book = build(dict(texts), digest)
    from diagnose.knowledge.integrity import problems

    for problem in problems(book):  # parsed again only to say where: a sound book needs no lines
        raise problem.located(book, {name: parse(text, name) for name, text in texts})
    _to_cache(book, dict(texts))
    return book


def read_all(root: Path) -> dict[str, str]:
    """The text of every rule file below a folder, by path.

    Raises:
        RuleError: no such folder, no files in it, or one that cannot be read.
    """
    if not root.is_dir():
        raise RuleError("is not a folder of rules", where=str(root), right="the folder that holds shared/words.yaml")
    found: dict[str, str] = {}
    for path in sorted(root.rglob("*.yaml")):
        try:
            found[path.relative_to(root).as_posix()] = read_text(path)
        except InputError as error:
            raise RuleError(error.what, where=error.where, right=error.right) from None
    if not found:
        raise RuleError("holds no rule files", where=str(root), right="files ending in .yaml")
    return found


def digest_of(texts: dict[str, str]) -> str:
    """SHA-256 over the text of all files, whatever their names: moving a file changes nothing."""
    parts = sorted(_sha(text) for text in texts.values())
    return _sha("\n".join(parts))


def _sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def build(texts: dict[str, str], digest: str) -> Book:
    """Parse and validate the texts of all files.

    Raises:
        RuleError: with file and line.
    """
    shared: dict[str, Any] = {}
    components: list[Component] = []
    calculations: list[Calculations] = []
    files: dict[str, str] = {}
    for name, text in texts.items():
        document = _parse(text, name)
        stem = Path(name).stem
        if stem in SHARED and "component" not in document.data:
            shared[stem] = _validated(SHARED[stem], document)
            continue
        if "calculations" in document.data and "component" not in document.data:
            family = _validated(Calculations, document)
            assert isinstance(family, Calculations)
            calculations.append(family)
            continue
        component = _validated(Component, document)
        assert isinstance(component, Component)
        if component.component in files:
            raise RuleError(f"component '{component.component}' is also in {files[component.component]}",
                            where=document.where(("component",)), right="another name")
        files[component.component] = name
        components.append(component)
    missing = [stem for stem in SHARED if stem not in shared and stem not in OPTIONAL]
    if missing:
        raise RuleError(f"file {missing[0]}.yaml is missing", right="a file of that name in rules/shared")
    return Book(
        components=tuple(sorted(components, key=lambda c: c.component)),
        words=shared["words"],
        boat=shared["boat"],
        caution_list=shared["cautions"],
        source_list=shared["sources"],
        look_over=shared["look-over"],
        glossary=shared.get("glossary", Glossary()),
        calculation_lists=tuple(sorted(calculations, key=lambda c: c.family)),
        digest=digest,
        files=dict(sorted(files.items())),
    )


def _parse(text: str, name: str) -> Document:
    try:
        document = parse(text, name)
    except InputError as error:
        raise RuleError(error.what, where=error.where, right=error.right) from None
    if not isinstance(document.data, dict):
        raise RuleError("is not a map of keys", where=document.where())
    return document


def _validated(kind: type[Entry], document: Document) -> Entry:
    try:
        return kind.model_validate(document.data)
    except ValidationError as error:
        raise explain_validation(error, document, RuleError) from None


# ------------------------------------------------------------------ cache


def cache_folder() -> Path | None:
    """Where compiled rules are kept, or None when the cache is switched off (DIAGNOSE_CACHE=off)."""
    chosen = os.environ.get("DIAGNOSE_CACHE")
    if chosen == "off":
        return None
    if chosen:
        return Path(chosen)
    from platformdirs import user_cache_path

    return user_cache_path("diagnose")


def _cache_file(digest: str) -> Path | None:
    folder = cache_folder()
    return folder / f"rules-{CACHE_FORM}-{digest[:32]}.json" if folder else None


def _from_cache(digest: str, texts: dict[str, str]) -> Book | None:
    path = _cache_file(digest)
    if path is None:
        return None
    try:
        with _no_collection():
            return _restored(json.loads(path.read_bytes()), digest, texts)
    except (OSError, ValueError, KeyError, TypeError):
        return None  # a damaged or foreign cache is never an error: the text is read again


@contextlib.contextmanager
def _no_collection() -> Iterator[None]:
    """Many thousand entries that all stay: looking for garbage among them meanwhile finds none and costs time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _restored(stored: dict[str, Any], digest: str, texts: dict[str, str]) -> Book | None:
    """The book from its cached form.

    Raises:
        ValueError, KeyError, TypeError: the form is not that of a cached book.
    """
    if stored["digest"] != digest:
        return None
    name_of = {_sha(text): name for name, text in texts.items()}  # the same text may lie in another file by now
    return Book(
        components=_COMPONENTS.validate_python(stored["components"]),
        words=Words.model_validate(stored["words"]),
        boat=BoatWords.model_validate(stored["boat"]),
        caution_list=Cautions.model_validate(stored["cautions"]),
        source_list=Sources.model_validate(stored["sources"]),
        look_over=LookOver.model_validate(stored["look_over"]),
        glossary=Glossary.model_validate(stored["glossary"]),
        calculation_lists=_CALCULATIONS.validate_python(stored["calculations"]),
        digest=digest,
        files={component: name_of[sha] for component, sha in stored["files"].items()},
    )


def _to_cache(book: Book, texts: dict[str, str]) -> None:
    path = _cache_file(book.digest)
    if path is None:
        return

    def dump(entry: Any) -> Any:
        return entry.model_dump(mode="json", by_alias=True, exclude_defaults=True)

    form = {
        "digest": book.digest,
        "components": [dump(c) for c in book.components],
        "words": dump(book.words),
        "boat": dump(book.boat),
        "cautions": dump(book.caution_list),
        "sources": dump(book.source_list),
        "look_over": dump(book.look_over),
        "glossary": dump(book.glossary),
        "calculations": [dump(c) for c in book.calculation_lists],
        "files": {component: _sha(texts[name]) for component, name in book.files.items()},
    }
    with contextlib.suppress(OSError):  # a read-only or full disk costs time, not the answer
        path.parent.mkdir(parents=True, exist_ok=True)
        # written aside and moved into place, so that two processes starting together never see half a file
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with open(handle, "w", encoding="utf-8") as part:
                json.dump(form, part, ensure_ascii=False)
            os.replace(name, path)
        except OSError:
            os.unlink(name)
