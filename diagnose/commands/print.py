"""The command that puts the reasoning of one case on paper."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import rules_option
from diagnose.commands.recordfile import record_option, say, sha_of
from diagnose.commands.told import Told as CaseTold
from diagnose.commands.told import own_option, planning_book, told_case
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.assessment import Assessment
    from diagnose.knowledge.book import Book
    from diagnose.show.report import Photo
    from diagnose.show.report.fromrecord import Told


@click.command("print")
@click.argument("case")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=None,
              help="The file to write; by default the name of the case, in this folder.")
@click.option("--markdown", is_flag=True, help="Write Markdown instead of HTML.")
@click.option("--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), default="A4", show_default=True,
              help="The sheet it is printed on.")
@click.option("--seen-by", help="Who looked.")
@click.option("--decided-by", help="Who decided.")
@click.option("--done-by", help="Who did the work.")
@click.option("--witness", help="Who watched.")
@click.option("--photo", "photos", multiple=True, metavar="PATH=CAPTION",
              help="A photo and what it shows (may be given again). Begin the caption with a symptom's id and a colon to tie it to that.")
@click.option("--costs", is_flag=True, help="Of a case in the record, show what it cost.")
@click.option("--job/--no-job", default=True, show_default=True, help="Show the job: parts, sequence, proof, and how far it is done.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@own_option
@record_option
@rules_option
def print_(case: str, output: Path | None, markdown: bool, paper: str, photos: tuple[str, ...], costs: bool, job: bool,
           force: bool, own: Path | None, path: Path | None, rules_folder: Path | None, **names: str | None) -> None:
    """Write the reasoning of one case as one page to print, to show and to sign.

    CASE is a file, the name of a shipped case, or a case of the record, with what was done since, what it was, and its photos. The job
    stands in it as it was planned and as far as it is done, or as it would be planned now. With
    --record it is looked for in that record only. The page holds everything it shows; places are taken out of photos.

    \b
    Example:
        diagnose print slow-weep --decided-by "A. Ferrow"
    """
    from dataclasses import replace
    from datetime import datetime

    from diagnose.knowledge.load import load_rules
    from diagnose.show.report import particulars_of, report_html, report_markdown

    book = load_rules(rules_folder)
    told = told_case(case, book, path)
    target = output or Path(f"{told.name}.{'md' if markdown else 'html'}")
    if not force:
        _refuse_old(target)
    shown = [_photo(text, told.assessment) for text in photos]
    about = particulars_of(told.case, book, photos=shown, printed_at=datetime.now().astimezone(), **names)
    if told.record is not None:
        from diagnose.show.recordpage import titles_of
        from diagnose.show.report.fromrecord import Told, with_record

        lies = Told(told.record.head, told.record.own, told.record.hers, titles_of(book))
        about = with_record(replace(about, photos=(*shown, *_photos_on_record(lies, told.assessment))), lies, costs=costs)
    if job:
        about = replace(about, **_work(told, book, own))
    text = report_markdown(told.assessment, book, about, terms=book.terms) if markdown else \
        report_html(told.assessment, book, about, terms=book.terms, paper="Letter" if paper.lower() == "letter" else "A4")
    _write(target, text, force=force)
    how = "" if markdown else " Open it in a browser; print it from there."
    say(f"Written: {target.resolve()} ({len(text.encode()) / 1000:.0f} kB).{how}")


def _work(told: CaseTold, book: Book, own: Path | None) -> dict[str, Any]:
    """The job of a case: as it was planned and as far as it is done, or as it would be planned now."""
    from diagnose.doing.standing import standing_of
    from diagnose.work.plan import plan

    standing = standing_of(told.record.own) if told.record is not None else None
    if standing is not None:
        return {"plan": standing.plan, "standing": standing}
    return {"plan": plan(told.assessment, told.case, planning_book(told, own, book, on_page=False))}


def _photos_on_record(told: Told, assessment: Assessment) -> Iterator[Photo]:
    """Photos that the record names, where they are still those it took note of; of the others it is said why they are left out."""
    from diagnose.show.report import read_photo
    from diagnose.show.words import literal

    known = {s.symptom for s in assessment.observations}
    for photo in told.photos:
        try:
            if sha_of(Path(photo.path)) != photo.sha256:
                raise InputError("is not the photo that the record took note of", where=photo.path, right="that photo put back")
            yield read_photo(Path(photo.path), photo.caption or photo.about or Path(photo.path).name,
                             photo.about if photo.about in known else None)
        except InputError as error:
            click.echo("\n".join(literal(line) for line in f"diagnose: photo left out: {error}".split("\n")), err=True)


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


def _write(target: Path, text: str, *, force: bool) -> None:
    """Write a file so that at no moment half of it is there.

    Raises:
        InputError: it is there and may not be written over, or it cannot be written.
    """
    from diagnose.record.wholefile import write_whole

    try:
        if target.is_dir():
            raise InputError("is a folder", where=str(target), right="the name of a file in it")
        write_whole(target, text.encode("utf-8"), replace=force)
    except FileExistsError:
        _refuse_old(target)
        raise
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(target), right="a folder that can be written to") from None
