"""The drawing of a trend as a file: well-formed, told in words, ink only, and literal."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
import trendkit as kit

from diagnose.record.outlook import Outlook, outlook
from diagnose.record.outlookwords import sentences
from diagnose.show.trendsvg import trend_drawing, trend_svg

SVG = "{http://www.w3.org/2000/svg}"
LOG = kit.log_of((0, 0), (365.25, 100))
BROWSER = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
RISING = outlook(kit.series([82.0, 84.0, 83.0, 86.0, 90.0, 89.0], [0.0, 50.0, 100.0, 150.0, 200.0, 250.0]), LOG)


def root(view: Outlook) -> ElementTree.Element:
    """The drawing as a tree."""
    return ElementTree.fromstring(trend_svg(view))


def places(view: Outlook) -> list[tuple[float, float]]:
    """Middles of the marks of looks, from left to right."""
    found = [(float(r.get("x", 0)) + float(r.get("width", 0)) / 2, float(r.get("y", 0)) + float(r.get("height", 0)) / 2)
             for r in root(view).findall(f"{SVG}rect")]
    return sorted(found)


def test_it_has_a_title_and_a_description() -> None:
    """Title and description are named by the drawing itself, and the description holds every sentence of the page (SVG 2, 5.8)."""
    tree = root(RISING)
    title, desc = tree.find(f"{SVG}title"), tree.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert title.text == "Brindle: heat, idling"
    assert desc.text == " ".join(sentences(RISING))
    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"


def test_it_is_drawn_in_ink_alone() -> None:
    """Black and white are the only colours, so that nothing is told by colour."""
    assert set(re.findall(r"#[0-9a-fA-F]{3,6}", trend_svg(RISING))) <= {"#1a1a1a", "#ffffff"}


def test_looks_stand_where_they_belong() -> None:
    """Six marks at even steps to the right, each as high as its value says."""
    found = places(RISING)
    xs, ys = [x for x, _ in found], [y for _, y in found]
    steps = [b - a for a, b in pairwise(xs)]
    assert len(found) == 6
    assert max(steps) - min(steps) < 0.3
    values = [82.0, 84.0, 83.0, 86.0, 90.0, 89.0]
    scale = (ys[0] - ys[4]) / (90.0 - 82.0)
    assert [ys[0] - y for y in ys] == pytest.approx([(v - 82.0) * scale for v in values], abs=0.3)


def test_all_of_it_lies_within_the_drawing() -> None:
    """No line, mark or foot of a word lies outside the box."""
    tree = root(RISING)
    _, _, wide, high = (float(n) for n in str(tree.get("viewBox")).split())
    for shape in tree.iter():
        for name in ("x", "x1", "x2", "y", "y1", "y2"):
            limit = wide if name.startswith("x") else high
            assert -0.1 <= float(shape.get(name, 0)) <= limit + 0.1


def test_the_words_stand_under_it() -> None:
    """All sentences are written out below the drawing, wrapped."""
    written = " ".join("".join(t.itertext()) for t in root(RISING).findall(f"{SVG}text"))
    for sentence in sentences(RISING):
        assert sentence in written


@pytest.mark.parametrize("values", [[80.0], [80.0, 90.0], [20.0] * 5, [99.0, 80.0, 70.0, 60.0], [106.0, 107.0, 108.0, 110.0]])
def test_every_kind_of_series_can_be_drawn(values: list[float]) -> None:
    """One look, two, equal ones, falling ones and ones in the worst grade give a drawing that can be read."""
    view = outlook(kit.series(values, [10.0 * i for i in range(len(values))]), LOG)
    assert root(view).find(f"{SVG}desc") is not None


def test_grades_are_drawn_at_their_names(tmp_path: Path) -> None:
    """Each grade has its height; looks of one grade stand level."""
    view = kit.view(kit.record_of(tmp_path, *kit.along(["none", "some", "some", "utter"], [0.0, 10.0, 20.0, 30.0], "weep")), "weep")
    (_, none), (_, some), (_, again), (_, utter) = places(view)
    assert some == again
    assert none > some > utter
    assert (none - utter) / (none - some) == pytest.approx(3.0, abs=0.05)
    assert {"none", "some", "much", "utter"} <= {t.text for t in root(view).findall(f"{SVG}text")}


@pytest.mark.parametrize("text", kit.HOSTILE)
def test_names_are_shown_and_not_obeyed(text: str) -> None:
    """A boat's name with markup or controls in it is text of a well-formed drawing, and adds no element."""
    view = replace(RISING, series=replace(RISING.series, boat=f"B {text}"))
    tree = root(view)
    assert {e.tag for e in tree.iter()} == {e.tag for e in root(RISING).iter()}
    title = tree.find(f"{SVG}title")
    assert title is not None
    assert "B " in str(title.text)
    assert all(c.isprintable() for e in tree.iter() for c in (e.text or "") if c != "\n")


def test_two_in_one_page_do_not_share_names() -> None:
    """Drawings under different names have different ids within."""
    ids = [set(re.findall(r'id="([^"]+)"', trend_drawing(RISING, name))) for name in ("a", "b")]
    assert ids[0].isdisjoint(ids[1])


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no browser of the Chromium family is installed")
def test_a_browser_draws_it(tmp_path: Path) -> None:
    """A browser opens the file and makes a picture of it."""
    (tmp_path / "t.svg").write_text(trend_svg(RISING), encoding="utf-8")
    subprocess.run([str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", "--window-size=420,900",
                    f"--screenshot={tmp_path / 't.png'}", (tmp_path / "t.svg").as_uri()], check=True, capture_output=True, timeout=120)
    assert (tmp_path / "t.png").read_bytes().startswith(b"\x89PNG")
