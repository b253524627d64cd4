"""The report in a real browser: it fits a phone, its type is large enough, its style is let in, and it prints on its sheet."""

from __future__ import annotations

import html
import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from conftest import CASES, made
from pagereader import Page

from diagnose.case import load_case
from diagnose.knowledge.load import load_rules
from diagnose.show.page import title_of
from diagnose.show.report import Photo, report_html
from diagnose.work.plan import plan

BROWSER = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
pytestmark = [pytest.mark.slow, pytest.mark.skipif(BROWSER is None, reason="no browser of the Chromium family is installed")]

QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LOOKED_AT = ("slow-weep", "gas-aboard", "two-faults")
PHONE = 375

MEASURE = """
<!DOCTYPE html><meta charset="utf-8"><body><pre id="out"></pre>
<iframe id="frame" style="border:0;width:%dpx;height:800px" srcdoc="%s"></iframe>
<script>
document.getElementById("frame").addEventListener("load", () => {
  const doc = document.getElementById("frame").contentDocument, view = doc.defaultView;
  const wide = doc.documentElement.clientWidth, found = {wide: wide, scroll: doc.documentElement.scrollWidth, out: [], small: []};
  for (const e of doc.body.querySelectorAll("*")) {
    const box = e.getBoundingClientRect(), style = view.getComputedStyle(e);
    if (box.width <= 1 || style.display === "none") continue;
    if (box.right > wide + 0.5 || box.left < -0.5) found.out.push(e.tagName + " " + e.textContent.slice(0, 40));
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    const scale = e.ownerSVGElement ? e.ownerSVGElement.getBoundingClientRect().width / e.ownerSVGElement.viewBox.baseVal.width : 1;
    const hidden = e.closest("thead") || ["TITLE", "DESC"].includes(e.tagName.toUpperCase());
    if (own && !hidden && parseFloat(style.fontSize) * scale < 15.9) found.small.push(e.tagName + " " + e.textContent.slice(0, 40));
  }
  found.frame = view.getComputedStyle(doc.querySelector(".decision")).borderTopStyle;
  found.images = [...doc.images].map(i => i.naturalWidth);
  document.getElementById("out").textContent = JSON.stringify(found);
});
</script>
"""


def browse(folder: Path, *arguments: str) -> str:
    """Run the browser with a profile of its own; what it writes to its output."""
    done = subprocess.run(
        [str(BROWSER), *QUIET, f"--user-data-dir={folder / 'profile'}", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=180,
        check=True,
    )
    return done.stdout


def a_picture() -> bytes:
    """A small picture that a browser draws."""
    from test_report_photos import png

    return png(width=600, height=400)


@pytest.fixture(scope="module", params=LOOKED_AT)
def report(request: pytest.FixtureRequest) -> Any:
    """A shipped case with a photo and its job."""
    photo = Photo(a_picture(), "png", 600, 400, "The pump from the belt side")
    told = made(request.param, load_case(CASES[request.param]), load_rules(), photos=(photo,), decided_by="Jon Brock")
    return replace(told, about=replace(told.about, plan=plan(told.assessment, told.case, told.book)))


@pytest.mark.parametrize("wide", [320, 360, PHONE, 720, 780, 900, 1100])
def test_it_fits_the_screen(wide: int, report: Any, tmp_path: Path) -> None:
    """On a phone, a small phone and a desk nothing runs over the edge, no type is under 16 pixels, and style and photo are let in."""
    (tmp_path / "frame.html").write_text(MEASURE % (wide, html.escape(report.html)), encoding="utf-8")
    dom = browse(tmp_path, "--hide-scrollbars", "--virtual-time-budget=5000", "--dump-dom", (tmp_path / "frame.html").as_uri())
    found = json.loads(next(e.text for e in Page(dom).all("pre")))
    assert found["scroll"] <= found["wide"]
    assert found["out"] == []
    if wide > 320:
        assert found["small"] == []
    assert found["frame"] == "solid"
    assert found["images"] == [600]


def test_a_phone_s_picture_can_be_taken(report: Any, tmp_path: Path) -> None:
    """A picture of the page at the width of a phone is taken, and there is ink on it from edge to edge of the column, none beyond."""
    image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    style, frame = f"border:0;width:{PHONE}px;height:2000px", html.escape(report.html)
    outer = f'<!DOCTYPE html><meta charset="utf-8"><body style="margin:0"><iframe style="{style}" srcdoc="{frame}">'
    (tmp_path / "frame.html").write_text(outer, encoding="utf-8")
    shot = tmp_path / "phone.png"
    browse(tmp_path, "--hide-scrollbars", "--window-size=600,2000", f"--screenshot={shot}", (tmp_path / "frame.html").as_uri())
    with image.open(shot) as taken:
        left, _, right, _ = taken.convert("L").point(lambda v: 255 if v < 128 else 0).getbbox()
    assert left >= 10
    assert PHONE - 40 < right <= PHONE - 10


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_it_prints_on_its_sheet(paper: str, size: tuple[int, int], report: Any, tmp_path: Path) -> None:
    """Printed, every sheet has the size asked for (ISO 216; ANSI Y14.1, in points), its number, and the decision is on the first."""
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    (tmp_path / "report.html").write_text(
        report_html(report.assessment, report.book, report.about, paper=paper),  # type: ignore[arg-type]
        encoding="utf-8",
    )
    pdf = tmp_path / "report.pdf"
    browse(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", (tmp_path / "report.html").as_uri())
    pages = pypdf.PdfReader(pdf).pages
    texts = [" ".join(page.extract_text().split()) for page in pages]
    for i, page in enumerate(pages):
        assert (round(page.mediabox.width), round(page.mediabox.height)) == size
        assert f"Page {i + 1} of {len(pages)}" in texts[i]
        assert report.assessment.rules.digest[:12] in texts[i]
    a = report.assessment
    for part in ("not a survey", title_of(a)[0], "Jon Brock", a.departure.headline, a.departure.holds_until):
        assert " ".join(part.split()) in texts[0]
    assert all(heading in texts[-1] for heading in ("Seen by", "Decided by", "Done by", "Witness"))
