"""What is typed at the work, read into orders; whatever it is, nothing is raised."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.doing.typed import Order, read


@pytest.mark.parametrize(("typed", "order"), [
    ("", Order("nothing")),
    ("  ", Order("nothing")),
    ("done", Order("done")),
    ("D", Order("done")),
    ("done 25 min", Order("done", minutes=25.0)),
    ("done 1.5 h", Order("done", minutes=90.0)),
    ("done 4", Order("done", 4, 4)),
    ("done 4-7", Order("done", 4, 7)),
    ("done 4 - 7 90 min", Order("done", 4, 7, 90.0)),
    ("done waited", Order("done", waited=True)),
    ("x no time", Order("leave out", text="no time")),
    ("f a drop", Order("failed", text="a drop")),
    ("f", Order("failed")),
    ("all", Order("all")),
    ("redo 5", Order("redo", first=5, text="5")),
    ("add clean-exchanger", Order("add", text="clean-exchanger")),
    ("learn the left bolt is long", Order("learn", text="the left bolt is long")),
    ("N Two lines", Order("note", text="Two lines")),
    ("p a b.jpg", Order("photo", text="a b.jpg")),
    ("hours 512.5", Order("hours", text="512.5")),
    ("b", Order("back")), ("list", Order("list")), ("?", Order("help")), ("quit", Order("quit")), ("parts", Order("parts")),
    ("done it all", Order("unknown", text="done it all")),
])
def test_each_way_to_type_is_read(typed: str, order: Order) -> None:
    """Words, numbers, ranges and times, with capitals or without."""
    assert read(typed) == order


@given(st.text())
def test_nothing_typed_raises(typed: str) -> None:
    """Any text is an order, if only an unknown one."""
    assert read(typed).word


@given(st.text())
def test_nothing_unknown_ticks(typed: str) -> None:
    """Only a line that begins with the word for it ticks a task off."""
    if read(typed).word == "done":
        assert typed.strip().casefold().startswith("d")
