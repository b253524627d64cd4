"""Strict reading of YAML: what one line means to its writer is what the program reads, or it is refused. And writing it so.

The parser is PyYAML's (libyaml where present); turning its nodes into values is done here, because the
usual loader keeps the last of two equal keys and reads `no`, `12:30`, `010` and `1e-3` as something else.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import yaml

from diagnose.errors import DiagnoseError, InputError

MAX_BYTES = 2_000_000
MAX_DEPTH = 40
_LONG = 200
"""A text longer than this that holds quotes is put into the other kind of quotes."""

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT = re.compile(r"-?(0|[1-9][0-9]*)\Z")
_FLOAT = re.compile(r"-?(0|[1-9][0-9]*)\.[0-9]+\Z")
_SURPRISES = (
    (re.compile(r"(?i:yes|no|on|off|y|n)\Z"), "is read as true or false by YAML",
     "true or false; for a name another word (applied, open), or the word in quotes everywhere"),
    (re.compile(r"(?i:null|~|)\Z"), "is empty", "a value, or leave the key out"),
    (re.compile(r"True|TRUE|False|FALSE"), "is not written as we write it", "true or false"),
    (re.compile(r"[-+]?[0-9][0-9_]*(:[0-5]?[0-9])+(\.[0-9]*)?\Z"), "is read as a number in base sixty",
     "the time in quotes, or a number with a unit"),
    (re.compile(r"[-+]?0[0-9_]+\Z|[-+]?0[xXoObB]"), "may be read as octal or hexadecimal", "plain digits without a leading zero"),
    (re.compile(r"[-+]?(\.?[0-9]+\.?[0-9]*)[eE][-+]?[0-9]+\Z"), "is read as text by some and a number by others",
     "the number written out, such as 0.001"),
    (re.compile(r"[-+]?\.[0-9]+\Z|[-+]?[0-9]+\.\Z|\+[0-9.]+\Z|[0-9]+_[0-9_]*\Z|[-+]?\.(?i:inf|nan)\Z"),
     "is not a plain number", "digits on both sides of the point, such as 0.5"),
)


@dataclass(frozen=True, slots=True)
class Document:
    """A parsed file: its values, and the nodes they came from so that a path has a line."""

    name: str
    data: Any
    node: Any

    def line_of(self, path: tuple[str | int, ...]) -> int:
        """Line (from 1) of the deepest part of `path` that exists in the file."""
        node, line = self.node, self.node.start_mark.line
        for step in path:
            if isinstance(node, yaml.MappingNode):
                for key, value in node.value:
                    if key.value == str(step):
                        node, line = value, key.start_mark.line
                        break
            elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
                node = node.value[step]
                line = node.start_mark.line
        return int(line) + 1

    def where(self, path: tuple[str | int, ...] = ()) -> str:
        """File and line of a path, as messages name them."""
        return f"{self.name}, line {self.line_of(path)}"


def read_text(path: Path, most: int = MAX_BYTES) -> str:
    """The text of a file, refused if it is missing, a folder, larger than `most` bytes, or not text.

    Raises:
        InputError: says which of these it is.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError("is a folder, not a file", where=str(path), right="the name of a file")
        if size > most:
            raise InputError(f"is {size / 1e6:.0f} MB; a file here is never over {most / 1e6:.0f} MB", where=str(path))
        raw = path.read_bytes()
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(path), right="a file that can be read") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"is not text in UTF-8 (byte {error.start})", where=str(path)) from None
    if "\x00" in text:
        raise InputError("is a binary file, not text", where=str(path))
    return text


def parse(text: str, name: str) -> Document:
    """Parse one YAML document strictly.

    Raises:
        InputError: with the line, for anything ambiguous, repeated, anchored, tagged or too deep.
    """
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        line = f", line {error.problem_mark.line + 1}" if error.problem_mark else ""
        raise InputError(f"is not well-formed YAML: {error.problem}", where=f"{name}{line}") from None
    except yaml.YAMLError as error:
        raise InputError(f"is not text that YAML allows: {str(error).splitlines()[0]}", where=name) from None
    except RecursionError:
        raise InputError("is nested too deeply", where=name) from None
    if node is None:
        raise InputError("is empty", where=name)
    return Document(name, _value(node, name, set(), 0), node)


def load(path: Path) -> Document:
    """Read and parse one file strictly; see `read_text` and `parse`."""
    return parse(read_text(path), str(path))


def _at(node: Any, name: str) -> str:
    return f"{name}, line {node.start_mark.line + 1}"


def _value(node: Any, name: str, seen: set[int], depth: int) -> Any:
    if id(node) in seen:
        raise InputError("anchors and aliases are not used here", where=_at(node, name), right="write the value out")
    seen.add(id(node))
    if depth > MAX_DEPTH:
        raise InputError("is nested too deeply", where=_at(node, name))
    if isinstance(node, yaml.ScalarNode):
        return _scalar(node, name)
    if isinstance(node, yaml.SequenceNode):
        _refuse_tag(node, name, "tag:yaml.org,2002:seq")
        return [_value(item, name, seen, depth + 1) for item in node.value]
    _refuse_tag(node, name, "tag:yaml.org,2002:map")
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            raise InputError("a key must be a word", where=_at(key_node, name))
        key = _scalar(key_node, name)
        if not isinstance(key, str):
            raise InputError(f"key {key_node.value!r} is not a word", where=_at(key_node, name), right="put it in quotes")
        if key in result:
            raise InputError(f"key '{key}' is repeated", where=_at(key_node, name), right="one of them, or a list")
        if isinstance(value_node, yaml.ScalarNode) and not value_node.value and value_node.style in (None, ""):
            raise InputError(f"key '{key}' has no value", where=_at(key_node, name),
                             right="a value, or quotes round a text that holds a comma or a colon")
        result[key] = _value(value_node, name, seen, depth + 1)
    return result


def _refuse_tag(node: Any, name: str, plain: str) -> None:
    if node.tag != plain:
        raise InputError(f"tag {node.tag} is not used here", where=_at(node, name))


def _scalar(node: Any, name: str) -> Any:
    text: str = node.value
    if node.style in ("'", '"', "|", ">"):
        _refuse_tag(node, name, "tag:yaml.org,2002:str")
        return text
    if text in ("true", "false"):
        _refuse_tag(node, name, "tag:yaml.org,2002:bool")
        return text == "true"
    if _INT.match(text):
        _refuse_tag(node, name, "tag:yaml.org,2002:int")
        return int(text) if len(text) < 19 else float(text)
    if _FLOAT.match(text):
        _refuse_tag(node, name, "tag:yaml.org,2002:float")
        return float(text)
    for pattern, what, right in _SURPRISES:
        if pattern.match(text):
            raise InputError(f"'{text}' {what}", where=_at(node, name), right=right)
    if node.tag != "tag:yaml.org,2002:timestamp":  # a date is read as text here, and as a date where one is wanted
        _refuse_tag(node, name, "tag:yaml.org,2002:str")
    return text


_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _./+-]*[A-Za-z0-9]\Z")
_KEY = re.compile(r"[a-z][a-z0-9_-]*\Z")
_ESCAPED = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def dump(data: Any) -> str:
    """Values as YAML that `parse` reads back as the same values, to the last character.

    Args:
        data: maps with text keys, lists, texts, numbers, true and false.

    Raises:
        ValueError: something else stands in it, such as nothing or a number that is not finite.
    """
    return "\n".join(_written(data, 0)) + "\n"


def _written(value: Any, depth: int) -> list[str]:
    """The lines of a map or list, indented; of anything else its one line."""
    if not isinstance(value, dict | list | tuple) or not value:
        return [_flat(value)]
    pad, lines = "  " * depth, []
    for key, inner in value.items() if isinstance(value, dict) else ((None, item) for item in value):
        head = f"{pad}- " if key is None else f"{pad}{key if _KEY.match(key) and _reads_as_text(key) else _quoted(key)}:"
        if not isinstance(inner, dict | list | tuple) or not inner:
            lines.append(f"{head}{'' if key is None else ' '}{_flat(inner)}")
            continue
        below = _written(inner, depth + 1)
        # the first line of what is in a list stands beside its mark
        lines += [head + below[0].lstrip(), *below[1:]] if key is None else [head, *below]
    return lines


def _flat(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float) and math.isfinite(value):
        written = format(Decimal(repr(value)), "f")  # never with an exponent
        return written if "." in written else f"{written}.0"
    if isinstance(value, str):
        return value if _PLAIN.match(value) and _reads_as_text(value) else _quoted(value)
    if isinstance(value, dict | list | tuple) and not value:
        return "{}" if isinstance(value, dict) else "[]"
    raise ValueError(f"cannot be written as YAML: {value!r}")


def _reads_as_text(text: str) -> bool:
    """Whether a text without quotes is read as itself and not as a number, true, a date or a surprise."""
    return text not in ("true", "false") and not any(pattern.match(text) for pattern, _, _ in _SURPRISES) and "  " not in text


def _quoted(text: str) -> str:
    """A text in quotes: what cannot be seen is written as its number."""
    if '"' in text and text.isprintable() and len(text) > _LONG:
        return "'" + text.replace("'", "''") + "'"
    return '"' + "".join(_ESCAPED.get(c) or (c if c.isprintable() else _numbered(c)) for c in text) + '"'


def _numbered(c: str) -> str:
    code = ord(c)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def nearest(word: str, known: list[str], count: int = 3) -> list[str]:
    """The known words most like `word`, best first; empty when nothing is close."""
    from rapidfuzz import fuzz, process

    hits = process.extract(word, known, scorer=fuzz.WRatio, limit=count, score_cutoff=60)
    return [hit[0] for hit in hits]


def did_you_mean(word: str, known: list[str]) -> str:
    """The nearest known words as the end of a message; empty when nothing is close."""
    near = nearest(word, known)
    return " or ".join(near) if near else ""


def explain_validation(error: Any, document: Document, kind: type[DiagnoseError]) -> DiagnoseError:
    """Turn a pydantic error into ours: the file, the line, the field and the nearest right name."""
    found = error.errors(include_url=False)
    # a misspelt key is both unknown and missing: the unknown one says more
    first = next((e for e in found if e["type"] == "extra_forbidden"), found[0])
    path = tuple(first["loc"])
    right = ""
    if first["type"] == "extra_forbidden":
        what = f"key '{path[-1]}' is not known here"
        right = did_you_mean(str(path[-1]), _keys_at(error.title, path))
    elif first["type"] == "missing":
        what = f"key '{path[-1]}' is missing"
    else:
        what = wrong_in_words(first, [part for part in path if not _is_type_label(part)])
    return kind(what, where=document.where(path), right=right)


def wrong_in_words(error: Any, path: Iterable[object]) -> str:
    """One line of a pydantic error in words, with the field that a path leads to."""
    what = str(error["msg"]).removeprefix("Value error, ")
    field = ".".join(map(str, path))
    return f"{what} (at {field})" if field else what


def _is_type_label(part: object) -> bool:
    return isinstance(part, str) and ("[" in part or part in ("str", "float", "bool", "int"))




def _keys_at(title: str, path: tuple[str | int, ...]) -> list[str]:
    """Field names of the model that `path` leads into, starting at the model named `title`."""
    from pydantic import BaseModel

    def subclasses(base: type[BaseModel]) -> dict[str, type[BaseModel]]:
        found = {base.__name__: base}
        for sub in base.__subclasses__():
            found.update(subclasses(sub))
        return found

    models = subclasses(BaseModel)
    current = models.get(title)
    for step in path[:-1]:
        if current is None or isinstance(step, int):
            continue
        field = next((f for n, f in current.model_fields.items() if step in (n, f.alias)), None)
        if field is None:
            continue
        inner = [m for name, m in models.items() if re.search(rf"\b{name}\b", str(field.annotation))]
        current = inner[0] if inner else None
    if current is None:
        return []
    return [f.alias or n for n, f in current.model_fields.items()]
