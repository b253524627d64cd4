"""Nothing lost: killed at any moment, starved of room, locked out, or with two programs at once, an answer is there or it is said."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import logkit as kit
import pytest

from diagnose.record import entries as e
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

PROGRAM = Path(__file__).with_name("strained.py")
ROOT = Path(__file__).parents[2]
posix = pytest.mark.skipif(os.name != "posix", reason="needs fork, signals and limits as POSIX has them")


def start(*arguments: str | Path, before: tuple[str, ...] = ()) -> subprocess.Popen[str]:
    """One of the programs of `strained.py`."""
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen([*before, sys.executable, str(PROGRAM), *map(str, arguments)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, encoding="utf-8", env={**os.environ, "PYTHONPATH": path})


def told(*arguments: str | Path, before: tuple[str, ...] = ()) -> dict[str, Any]:
    """What such a program says when it is left to end, all its lines in one."""
    program = start(*arguments, before=before)
    out, err = program.communicate(timeout=120)
    assert program.returncode == 0, err
    return {key: value for line in out.splitlines() for key, value in json.loads(line).items()}


def notes(path: Path) -> list[str]:
    """The notes of the answers in a sound record, without their padding."""
    with Record.open(path) as record:
        record.verify()
        return [s.entry.observation.note.split()[0] for s in record.entries(kinds=("observed",))]  # type: ignore[union-attr]


# ------------------------------------------------------------------ killed


@posix
def test_killed_now_and_then_nothing_is_lost(tmp_path: Path) -> None:
    """A program that is killed at random moments while it answers loses no answer that it was told is kept."""
    result = told("killed", tmp_path, "10", "1")
    assert result["lost"] == 0
    assert result["answers"] > 10


@posix
@pytest.mark.slow
def test_killed_hundreds_of_times_nothing_is_lost(tmp_path: Path) -> None:
    """The same two hundred times, five records over: killed before the first answer and between answers, every record opens,
    its chain holds, its case can be gone on with, and the dead holder of the case is taken over."""
    result = told("killed", tmp_path, "200", "2")
    assert result["lost"] == 0
    assert result["answers"] > 400
    assert result["states"] == ["before the first answer", "between answers"]
    assert result["taken_over"] > 100
    assert len(list(tmp_path.glob("r*.sqlite3"))) == 5


# ------------------------------------------------------------------ no room


def test_a_full_disk_is_said_and_loses_nothing(tmp_path: Path) -> None:
    """When the file may not grow, the answer is refused with the reason, all before it are there, and with room again it goes on."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        case = str(record.append(kit.opened(), boat=kit.BOAT).case)
        pages = record.database.execute("PRAGMA page_count").fetchone()[0]
        record.database.execute(f"PRAGMA max_page_count = {pages + 3}")
        kept, refused = _answered(record, case)
        assert "nothing was written: the disk is full" in str(refused)
        assert "room on the disk" in str(refused)
        assert len(record.entries(kinds=("observed",))) == len(kept) > 5
        record.database.execute("PRAGMA max_page_count = 100000")
        record.append(kit.seen(note="after"), boat=kit.BOAT, case=case)
    assert notes(path) == [*kept, "after"]


def _answered(record: Record, case: str) -> tuple[list[str], RecordError | None]:
    """Answer until the record refuses: the answers kept, and what was said then."""
    kept: list[str] = []
    try:
        while len(kept) < 1000:
            record.append(kit.seen(note=f"{len(kept)} " + "x" * 1000), boat=kit.BOAT, case=case)
            kept.append(str(len(kept)))
    except RecordError as error:
        return kept, error
    return kept, None


@posix
@pytest.mark.slow
def test_a_file_that_may_not_grow_is_said_and_loses_nothing(tmp_path: Path) -> None:
    """With a limit on the size of files, all that was acknowledged is there when the program has ended."""
    result = told("starved", tmp_path / "r.sqlite3", "150000")
    assert "nothing was written" in result["said"]
    assert len(result["acknowledged"]) > 5
    assert len(notes(tmp_path / "r.sqlite3")) == len(result["acknowledged"])


@pytest.fixture
def small_disk(tmp_path: Path) -> tuple[str, ...]:
    """The start of a command line that mounts a disk of half a megabyte over a folder, where the system allows it."""
    mount = tmp_path / "disk"
    mount.mkdir()
    shell = ("unshare", "--mount", "--map-root-user", "sh", "-c",
             f"mount -t tmpfs -o size=512k none '{mount}' && head -c 100000 /dev/zero > '{mount}/ballast' && exec \"$@\"", "sh")
    if shutil.which("unshare") is None or subprocess.run([*shell, "true"], capture_output=True).returncode != 0:
        pytest.skip("no disk can be mounted here")
    return shell


@posix
@pytest.mark.slow
def test_a_disk_that_is_full_is_said_and_loses_nothing(small_disk: tuple[str, ...], tmp_path: Path) -> None:
    """On a real disk with no room left all acknowledged answers are there, can be read, and with room made it goes on."""
    program = start("filled", tmp_path / "disk" / "r.sqlite3", before=small_disk)
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    refused, full, after = (json.loads(line) for line in out.splitlines())
    assert "nothing was written: the disk is full" in refused["said"]
    assert len(refused["acknowledged"]) > 5
    assert full["there"] == len(refused["acknowledged"]) + 1
    assert after["there"] == full["there"] + 1


# ------------------------------------------------------------------ locked out


@posix
def test_what_may_only_be_read_is_said_and_read() -> None:
    """In a folder, or of a file, that one may only read, writing is refused with the reason, and reading works; so it does where
    what was last said is not in the file yet but beside it."""
    folder = Path(tempfile.mkdtemp(prefix="read-only-"))  # the folders of tests are closed to others
    folder.chmod(0o755)
    records = {what: Record.open(folder / what / "r.sqlite3") for what in ("folder", "file", "in use")}
    try:
        for what, record in records.items():
            record.append(kit.opened(what), boat=kit.BOAT)
            if what != "in use":
                record.close()
            for beside in record.path.parent.iterdir():
                beside.chmod(0o444)
            record.path.parent.chmod(0o777 if what == "file" else 0o555)
        assert Path(f"{records['in use'].path}-wal").stat().st_size > 0
        result = told("locked_out", *(record.path for record in records.values()))
        for what, record in records.items():
            said, there, case = result[str(record.path)]
            assert "nothing was written: the record, or the folder it lies in, may only be read" in said
            assert "--record" in said
            assert (there, case) == (1, f"{what.replace(' ', '-')}-1")
    finally:
        records["in use"].close()
        for record in records.values():
            record.path.parent.chmod(0o777)
        shutil.rmtree(folder)


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """Where the folder of a new record cannot be made, that is said and not a trace."""
    (tmp_path / "file").touch()
    with pytest.raises(RecordError, match=r"file/sub/r\.sqlite3"):
        Record.open(tmp_path / "file" / "sub" / "r.sqlite3")


# ------------------------------------------------------------------ two at once


def test_two_programs_at_once_lose_nothing(tmp_path: Path) -> None:
    """Two programs that append together, from the making of the file on, lose nothing, and each keeps its order."""
    path = tmp_path / "r.sqlite3"
    programs = [start("appends", path, "25", name) for name in ("one", "two")]
    ids = [json.loads(program.communicate(timeout=60)[0])["ids"] for program in programs]
    assert [program.returncode for program in programs] == [0, 0]
    assert sorted([*ids[0], *ids[1]]) == list(range(1, 51))
    with Record.open(path) as record:
        assert record.verify() == 50
        said = [s.entry.text for s in record.entries()]  # type: ignore[union-attr]
    for name in ("one", "two"):
        assert [text for text in said if text.startswith(name)] == [f"{name} {i}" for i in range(25)]


def test_a_program_that_keeps_it_locked_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another program does not let go in time, nothing is written, and that is said."""
    monkeypatch.setattr("diagnose.record.schema.WAIT_SECONDS", 0.1)
    with Record.open(tmp_path / "r.sqlite3") as record, Record.open(tmp_path / "r.sqlite3") as other:
        with other.writing():
            other.append(e.Note(text="slow"), boat="A")
            with pytest.raises(RecordError, match="another program has kept the record locked"):
                record.append(e.Note(text="quick"), boat="A")
        assert record.append(e.Note(text="quick"), boat="A").id == 2


@posix
def test_a_second_session_on_a_case_is_told_who_holds_it(tmp_path: Path) -> None:
    """While one session holds a case, another is told its process and since when, may hold another case, and may read. When the
    first was killed, the case is taken over, and who held it is told."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        cases = [str(record.append(kit.opened(title), boat=kit.BOAT).case) for title in ("one", "two")]
        program = start("holds", path, cases[0])
        assert program.stdout is not None
        pid = json.loads(program.stdout.readline())["pid"]
        said = rf"case 'one-1' is open in another session: process {pid}, since \d+ \w+ \d{{4}} \d\d:\d\d"
        with pytest.raises(RecordError, match=said), record.hold_case(cases[0]):
            raise AssertionError("held by two")
        assert record.case_named("one-1").title == "one"
        with record.hold_case(cases[1]) as holding:
            assert holding.taken_over is None
        program.kill()
        program.communicate(timeout=60)
        with record.hold_case(cases[0]) as holding:
            assert holding.taken_over is not None
            assert holding.taken_over.pid == pid
            assert not holding.taken_over.lives
        with record.hold_case(cases[0]) as holding:
            assert holding.taken_over is None


def test_a_living_session_is_set_aside_only_if_that_is_asked(tmp_path: Path) -> None:
    """Asked to, a session takes the case from one that still lives, and the other one's letting go does not free it."""
    with Record.open(tmp_path / "r.sqlite3") as record, Record.open(tmp_path / "r.sqlite3") as other:
        case = str(record.append(kit.opened(), boat=kit.BOAT).case)
        with record.hold_case(case, take_over=True) as mine:
            with other.hold_case(case, take_over=True) as theirs:
                assert (mine.taken_over, theirs.taken_over.pid if theirs.taken_over else None) == (None, os.getpid())
            with pytest.raises(RecordError, match="open in another session"), _also_held(other, record, case):
                raise AssertionError("held by two")


def _also_held(one: Record, other: Record, case: str) -> Any:
    """Hold a case in one record, and try it in another."""
    from contextlib import ExitStack

    stack = ExitStack()
    stack.enter_context(one.hold_case(case))
    try:
        stack.enter_context(other.hold_case(case))
    except BaseException:
        stack.close()
        raise
    return stack


def test_a_session_on_another_computer_counts_as_living(tmp_path: Path) -> None:
    """Nothing can be known of a process elsewhere, so its case is not taken over by itself."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        case = str(record.append(kit.opened(), boat=kit.BOAT).case)
        record.database.execute("INSERT INTO hold VALUES (?, 1, '', 'chart-table', '2026-05-03T17:30:00+00:00')", (case,))
        with pytest.raises(RecordError, match="process 1 on chart-table, since"), record.hold_case(case):
            raise AssertionError("held by two")
        with record.hold_case(case, take_over=True) as holding:
            assert holding.taken_over is not None
            assert holding.taken_over.host == "chart-table"
