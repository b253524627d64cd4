"""`diagnose print`: one file, written whole or not at all, never over another unasked, and it says where it is."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tiny
from click.testing import CliRunner, Result
from pagereader import Page
from test_report_photos import png

from diagnose.commands.print import _write, print_
from diagnose.errors import InputError

DRIP = [tiny.observation("pump-weep", "drip", note="every ten seconds"), tiny.observation("pump-level-low")]


@pytest.fixture
def run(tmp_path: Path, tiny_rules: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Runs the command in a folder of its own, on a case of the tiny book."""
    monkeypatch.chdir(tmp_path)
    tiny.write_case(tmp_path / "drip.yaml", title="It drips", opened_because="noticed-something", observations=DRIP)

    def made(*arguments: str | Path) -> Result:
        return CliRunner().invoke(print_, [*map(str, arguments), "--rules", str(tiny_rules)])

    return made


def refused(result: Result) -> InputError:
    """The error that a command ended in, which the program turns into a message and exit status 2."""
    assert isinstance(result.exception, InputError), result.output
    return result.exception


def test_the_file_is_written_and_named(run: Callable[..., Result], tmp_path: Path) -> None:
    """Without a name the file is called like its case, in the folder where one is, and the command says where that is."""
    done = run("drip.yaml")
    assert done.exception is None
    assert f"Written: {tmp_path / 'drip.html'} (" in done.output
    page = Page((tmp_path / "drip.html").read_text(encoding="utf-8"))
    assert page.unbalanced == []
    assert "It drips" in page.one("h1").text
    assert "printed " in page.text
    assert sorted(p.name for p in tmp_path.iterdir()) == ["drip.html", "drip.yaml"]


def test_markdown_is_written_when_asked_for(run: Callable[..., Result], tmp_path: Path) -> None:
    """--markdown writes the other form under its own ending."""
    assert run("drip.yaml", "--markdown").exception is None
    text = (tmp_path / "drip.md").read_text(encoding="utf-8")
    assert text.startswith("*The owner's reasoning, not a survey*\n\n# Tern: It drips\n")


def test_names_and_paper_are_taken(run: Callable[..., Result], tmp_path: Path) -> None:
    """Who looked and who decided stand at the decision and where they sign, and the sheet is the one asked for."""
    run("drip.yaml", "-o", "out.html", "--seen-by", "Ana Brock", "--decided-by", "Jon Brock", "--paper", "letter")
    page = Page((tmp_path / "out.html").read_text(encoding="utf-8"))
    assert "Decided by Jon Brock" in page.text
    assert "Looked by Ana Brock" in page.text
    signed = [e.text for e in page.all("tr") if e.within("tbody") and e.text.startswith(("Seen by", "Decided by"))]
    assert ["Ana Brock" in signed[0], "Jon Brock" in signed[1]] == [True, True]
    assert "size: Letter" in "".join(page.one("style").texts)


def test_a_file_that_is_there_is_left_alone(run: Callable[..., Result], tmp_path: Path) -> None:
    """A file of that name is not written over, nor a link of that name, unless --force says so."""
    (tmp_path / "drip.html").write_text("mine", encoding="utf-8")
    error = refused(run("drip.yaml"))
    assert (error.where, error.what) == ("drip.html", "is there already")
    assert "--force" in error.right
    assert (tmp_path / "drip.html").read_text(encoding="utf-8") == "mine"
    assert run("drip.yaml", "--force").exception is None
    assert "It drips" in (tmp_path / "drip.html").read_text(encoding="utf-8")
    (tmp_path / "link.html").symlink_to(tmp_path / "nowhere.html")
    assert refused(run("drip.yaml", "-o", "link.html")).what == "is there already"


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_a_place_that_cannot_be_written_to_is_named(force: list[str], run: Callable[..., Result], tmp_path: Path) -> None:
    """A folder, and a folder that is not there, are refused by name, with what would be right."""
    (tmp_path / "there").mkdir()
    assert refused(run("drip.yaml", "-o", "there", *force)).what == "is a folder"
    error = refused(run("drip.yaml", "-o", "nowhere/out.html", *force))
    assert error.what == "no such file or directory"
    assert error.where == str(Path("nowhere/out.html"))


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_full_disk_leaves_the_old_file(call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When writing fails the old file is as it was, nothing half-written stays behind, and the person is told why."""
    target = tmp_path / "out.html"
    target.write_text("old", encoding="utf-8")

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, call, full)
    with pytest.raises(InputError, match="no space left"):
        _write(target, "new", force=True)
    monkeypatch.undo()
    assert target.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["out.html"]


def test_a_file_that_appears_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """A file written by somebody else while the report was made is not written over."""
    target = tmp_path / "out.html"
    target.write_text("theirs", encoding="utf-8")
    with pytest.raises(InputError, match="is there already"):
        _write(target, "new", force=False)
    assert target.read_text(encoding="utf-8") == "theirs"


@pytest.mark.skipif(sys.platform == "win32", reason="this system has no such permissions")
def test_others_may_read_it_as_any_file(tmp_path: Path) -> None:
    """The file has the permissions that any new file of this person has."""
    before = os.umask(0o027)
    try:
        _write(tmp_path / "out.html", "new", force=False)
    finally:
        os.umask(before)
    assert (tmp_path / "out.html").stat().st_mode & 0o777 == 0o640


# ------------------------------------------------------------------ photos


def test_photos_are_taken_in(run: Callable[..., Result], tmp_path: Path) -> None:
    """Each photo stands in the page with its caption; one whose caption names a sign is tied to that sign's row."""
    (tmp_path / "a=b.png").write_bytes(png())
    (tmp_path / "c.png").write_bytes(png(width=3))
    done = run("drip.yaml", "--photo", "a=b.png=pump-weep: Crust = brown", "--photo", "c.png=Belt: <b>loose</b>")
    assert done.exception is None
    page = Page((tmp_path / "drip.html").read_text(encoding="utf-8"))
    assert [e.attrs["alt"] for e in page.all("img")] == ["Crust = brown", "Belt: <b>loose</b>"]
    assert all(e.attrs["src"].startswith("data:image/png;base64,") for e in page.all("img"))
    assert re.search(r"Photo 1, of no\. \d+\. Crust = brown", page.text)
    assert "Photo 2. Belt: <b>loose</b>" in page.text
    assert any("every ten seconds" in e.text and "(photo 1)" in e.text for e in page.all("tr"))


@pytest.mark.parametrize(
    ("photo", "what"),
    [("pump.png", "has no caption"), ("pump.png=", "has no caption"), ("ghost.png=x", "no such file"), ("drip.yaml=x", "cannot be freed")],
)
def test_a_photo_that_cannot_be_used_stops_it(photo: str, what: str, run: Callable[..., Result], tmp_path: Path) -> None:
    """A photo without a caption, not there, or not a photo is refused by name, and no file is written."""
    (tmp_path / "pump.png").write_bytes(png())
    error = refused(run("drip.yaml", "--photo", photo))
    assert what in error.what
    assert error.right
    assert not (tmp_path / "drip.html").exists()


# ------------------------------------------------------------------ wrong input, hostile names


def test_a_wrong_case_is_named(run: Callable[..., Result], tmp_path: Path) -> None:
    """An error in the case names its file, and nothing is written."""
    tiny.write_case(tmp_path / "wrong.yaml", observations=[tiny.observation("pump-wep")])
    error = refused(run("wrong.yaml"))
    assert "wrong.yaml" in error.where
    assert not (tmp_path / "wrong.html").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="this system forbids such names")
def test_a_hostile_file_name_is_shown_and_not_obeyed(run: Callable[..., Result], tmp_path: Path) -> None:
    """Controls in the name of the file are shown as marks where the command says where it is."""
    done = run("drip.yaml", "-o", "a\x1b[31m\u202eb.html")
    assert done.exception is None
    assert (tmp_path / "a\x1b[31m\u202eb.html").exists()
    assert [c for c in done.output if not c.isprintable() and c != "\n"] == []
