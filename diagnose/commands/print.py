"""The command that puts the reasoning of one case on paper."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.commands.common import case_path, judge, rules_option
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.assessment import Assessment
    from diagnose.show.report import Photo


@click.command("print")
@click.argument("case")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=None,
              help="The file to write; by default the name of the case, in this folder.")
@click.option("--markdown", is_flag=True, help="Write Markdown instead of HTML.")
@click.option("--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), default="A4", show_default=True,
              help="The sheet it is printed on.")
@click.option("--seen-by", help="Who looked.")
@click.option("--decided-by", help="Who decided.")
@click.option("--photo", "photos", multiple=True, metavar="PATH=CAPTION",
              help="A photo and what it shows (may be given again). Begin the caption with a symptom's id and a colon to tie it to that.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@rules_option
def print_(case: str, output: Path | None, markdown: bool, paper: str, seen_by: str | None, decided_by: str | None,
           photos: tuple[str, ...], force: bool, rules_folder: Path | None) -> None:
    """Write the reasoning of a case as one page to print, to show and to sign.

    CASE is a file, or the name of a shipped case. The page holds everything it shows, photos too; places are taken out of them.

    \b
    Example:
        diagnose print slow-weep --decided-by "A. Ferrow"
    """
    from datetime import datetime

    from diagnose.case import load_case
    from diagnose.knowledge.load import load_rules
    from diagnose.show.report import particulars_of, report_html, report_markdown
    from diagnose.show.words import literal

    target = output or Path(f"{case_path(case).stem}.{'md' if markdown else 'html'}")
    if not force:
        _refuse_old(target)
    book = load_rules(rules_folder)
    assessment = judge(case, book)
    about = particulars_of(load_case(case_path(case)), book, seen_by=seen_by, decided_by=decided_by,
                           photos=[_photo(text, assessment) for text in photos], printed_at=datetime.now().astimezone())
    terms = book.terms
    text = report_markdown(assessment, book, about, terms=terms) if markdown else \
        report_html(assessment, book, about, terms=terms, paper="Letter" if paper.lower() == "letter" else "A4")
    write_whole(target, text, force=force)
    how = "" if markdown else " Open it in a browser; print it from there."
    click.echo(literal(f"Written: {target.resolve()} ({len(text.encode()) / 1000:.0f} kB).{how}"))


def _photo(text: str, assessment: Assessment) -> Photo:
    """A photo from PATH=CAPTION; a file's name may hold the sign itself, so the longest name that exists is taken."""
    from diagnose.show.report import read_photo

    splits = [i for i, c in enumerate(text) if c == "="]
    if not splits:
        raise InputError("has no caption", where=text, right="PATH=CAPTION, what the photo shows")
    at = next((i for i in reversed(splits) if Path(text[:i]).is_file()), splits[0])
    caption = text[at + 1 :].strip()
    name, colon, rest = caption.partition(":")
    about = name.strip() if colon and name.strip() in {s.symptom for s in assessment.observations} else None
    return read_photo(Path(text[:at]), rest.strip() if about is not None else caption, about)


def _refuse_old(target: Path) -> None:
    if target.is_dir():
        raise InputError("is a folder", where=str(target), right="the name of a file in it")
    if target.exists() or target.is_symlink():
        raise InputError("is there already", where=str(target), right="another name with -o, or --force to write over it")


def write_whole(target: Path, text: str, *, force: bool) -> None:
    """Write a file so that at no moment half of it is there.

    Args:
        target: the file.
        text: what it holds.
        force: whether one that is there is written over.

    Raises:
        InputError: it is there and may not be written over, or it cannot be written.
    """
    part = None
    try:
        if target.is_dir():
            raise InputError("is a folder", where=str(target), right="the name of a file in it")
        handle, part = tempfile.mkstemp(dir=target.parent, prefix=".report-", suffix=".part")
        with open(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(part, 0o666 & ~_umask())
        if not force:
            _refuse_old(target)
        os.replace(part, target)
        part = None
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(target), right="a folder that can be written to") from None
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                os.unlink(part)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
