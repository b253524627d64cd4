"""The rules as they stood at some revision of the repository they are kept in."""

from __future__ import annotations

import io
import subprocess
import tarfile
from pathlib import Path

from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, load_texts, shipped


def rules_named(name: str) -> Book:
    """The rules in a folder, or those of a git revision where no such folder exists.

    Raises:
        InputError: neither a folder nor a revision that git knows.
        RuleError: the rules are broken.
    """
    if Path(name).is_dir():
        return load_rules(name)
    packed = _packed(name)
    if packed is None:
        raise InputError("is neither a folder of rules nor a revision that git knows", where=name,
                         right="a folder with shared/words.yaml in it, or for instance HEAD~1 in a clone")
    texts: dict[str, str] = {}
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        for member in archive:
            file = archive.extractfile(member)
            if file is not None and member.name.endswith(".yaml"):
                texts[member.name.removeprefix("rules/")] = file.read().decode()
    return load_texts(dict(sorted(texts.items())))


def _packed(revision: str) -> bytes | None:
    home = shipped("rules").parent
    if revision.startswith("-"):
        return None
    try:
        made = subprocess.run(["git", "-C", str(home), "archive", "--format=tar", revision, "--", "rules"],
                              capture_output=True, check=False)
    except OSError:
        return None
    return made.stdout if made.returncode == 0 else None
