"""The HTML report: its structure, its policy, its colours, and that nothing of an assessment that matters is missing from it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable
from datetime import datetime, timezone
from itertools import pairwise

import pytest
from conftest import Report
from pagereader import Page

from diagnose.assessment import Assessment
from diagnose.show.page import title_of
from diagnose.show.report import Deed, Particulars, report_html
from diagnose.show.words import in_hundred

DRIP = {
    "title": "It drips",
    "opened_because": "noticed-something",
    "observations": [
        {"symptom": "pump-weep", "grade": "drip", "state": "cold-stopped", "note": "every ten seconds", "by": "Ana"},
        {"symptom": "pump-level-low", "grade": "low", "state": "cold-stopped", "sure": "think-so"},
        {"symptom": "pump-gauge-high", "value": "99 degC", "state": "idle"},
        {"symptom": "pump-play", "sure": "cannot-see"},
    ],
}

# ------------------------------------------------------------------ structure


def test_every_shipped_case_makes_a_sound_page(shipped: tuple[Report, ...]) -> None:
    """Tags close in order, one title, one first heading, no level of heading is left out, and no id stands twice."""
    assert len(shipped) >= 6
    for report in shipped:
        page = report.page
        assert page.unbalanced == [], report.name
        assert page.declarations == ["DOCTYPE html"]
        assert page.comments == []
        assert len(page.all("h1")) == len(page.all("main")) == len([e for e in page.all("title") if not e.within("svg")]) == 1
        levels = [int(e.tag[1]) for e in page.all("h1", "h2", "h3", "h4")]
        assert levels[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(levels)), report.name
        ids = [e.attrs["id"] for e in page.elements if "id" in e.attrs]
        assert len(ids) == len(set(ids)), report.name


def test_what_is_pointed_at_is_there(shipped: tuple[Report, ...]) -> None:
    """Every link within the page, and every element that names another as its label, finds it."""
    for report in shipped:
        ids = {e.attrs["id"] for e in report.page.elements if "id" in e.attrs}
        links = {e.attrs["href"] for e in report.page.all("a")}
        assert all(link.startswith("#") and link[1:] in ids for link in links)
        labels = {name for e in report.page.elements for name in e.attrs.get("aria-labelledby", "").split()}
        assert labels <= ids


def test_everyone_can_read_it(shipped: tuple[Report, ...]) -> None:
    """The language is said, pictures and drawings have words, tables a caption and headed columns and rows."""
    for report in shipped:
        page = report.page
        assert page.one("html").attrs["lang"] == "en-GB"
        assert all(e.attrs.get("alt") for e in page.all("img"))
        for svg in page.all("svg"):
            own = [e for e in page.all("title", "desc") if svg in e.around]
            assert [e.tag for e in own] == ["title", "desc"]
            assert all(e.text for e in own)
            assert svg.attrs["role"] == "img"
            assert svg.attrs["aria-labelledby"].split() == [e.attrs["id"] for e in own]
        assert all(e.attrs.get("scope") in ("col", "row") for e in page.all("th"))
        for table in page.all("table"):
            assert [e for e in page.all("caption") if table in e.around]
            heads = [e for e in page.all("th") if table in e.around and e.attrs["scope"] == "col"]
            rows = [e for e in page.all("tr") if table in e.around and not e.within("thead")]
            assert heads
            assert rows
            for row in rows:
                assert len([e for e in page.all("th", "td") if row in e.around]) == len(heads), report.name


def test_nothing_is_fetched_and_nothing_runs(shipped: tuple[Report, ...]) -> None:
    """No script, no handler, no inline style, no address outside the page; and a policy that would forbid them."""
    for report in shipped:
        page = report.page
        assert not page.all("script", "link", "iframe", "object", "embed", "form", "base", "audio", "video")
        for element in page.elements:
            assert not [name for name in element.attrs if name.startswith("on") or name == "style"]
            for name in ("src", "href", "action", "data", "poster", "srcset", "xlink:href"):
                assert element.attrs.get(name, "#").startswith(("#", "data:image/"))
        css = "".join(page.one("style").texts)
        assert not re.search(r"@import|url\(|expression\(|//", css)
        assert not re.search(r"(?i)https?:", report.html.replace('xmlns="http://www.w3.org/2000/svg"', ""))


def test_the_policy_lets_in_this_style_and_nothing_else(shipped: tuple[Report, ...]) -> None:
    """The policy stands before the style, allows no source but data for images, and names the digest of the style as it stands."""
    for report in shipped:
        (policy,) = [e.attrs["content"] for e in report.page.all("meta") if e.attrs.get("http-equiv") == "Content-Security-Policy"]
        css = re.search("<style>(.*)</style>", report.html, re.DOTALL)
        assert css is not None
        digest = base64.b64encode(hashlib.sha256(css[1].encode()).digest()).decode()
        parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
        assert parts == {
            "default-src": "'none'",
            "img-src": "data:",
            "style-src": f"'sha256-{digest}'",
            "base-uri": "'none'",
            "form-action": "'none'",
        }
        assert report.html.index("Content-Security-Policy") < report.html.index("<style>")


def test_the_same_case_gives_the_same_page(tiny_report: Callable[..., Report]) -> None:
    """Two reports of one case are the same bytes."""
    assert tiny_report(**DRIP).html == tiny_report(**DRIP).html


# ------------------------------------------------------------------ colours and sizes


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (W3C, WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Contrast ratio (W3C, WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_is_reckoned_as_published() -> None:
    """By hand from the definition: black on white is 1.05 to 0.05, and red, of luminance 0.2126, on white 1.05 to 0.2626."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#ff0000", "#ffffff") == pytest.approx(1.05 / 0.2626)


def test_text_stands_out_and_no_colour_means_anything(shipped: tuple[Report, ...]) -> None:
    """Text has at least 7 to 1 on its ground (WCAG 2.2, 1.4.6), lines 3 to 1 (1.4.11), and every colour used is a grey."""
    for report in shipped:
        css = "".join(report.page.one("style").texts)
        colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", css)) | {
            v for e in report.page.elements for k, v in e.attrs.items() if k in ("fill", "stroke") and v.startswith("#")
        }
        assert all(len(c) == 7 and c[1:3] == c[3:5] == c[5:7] for c in colours), colours
        assert not re.search(r"(?<![-\w])(rgb|hsl|red|green|blue|yellow|orange)\b", css)
        assert set(re.findall(r"background(?:-color)?:\s*([^;]+);", css)) == {"#ffffff"}
        words = set(re.findall(r"(?<![-\w])color:\s*([^;]+);", css))
        assert words
        assert min(contrast(c, "#ffffff") for c in words) >= 7.0
        lines = set(re.findall(r"border[-\w]*:[^;]*(#[0-9a-f]{6})", css))
        assert min(contrast(c, "#ffffff") for c in lines) >= 3.0
        for text in report.page.all("text"):
            svg = next(e for e in text.around if e.tag == "svg")
            assert contrast(text.attrs.get("fill", svg.attrs["fill"]), "#ffffff") >= 7.0


def css_without_print(css: str) -> str:
    """The style rules that a screen uses."""
    return re.sub(r"@page {.*?} }\n", "", css.partition("@media print {")[0])


def test_type_on_a_phone_is_never_small(shipped: tuple[Report, ...]) -> None:
    """On a screen no letter is under 16 pixels, those of drawings included, and the width is that of the device."""
    css = css_without_print("".join(shipped[0].page.one("style").texts))
    sizes = [float(size) for size in re.findall(r"font(?:-size)?:\s*(?:\d+ )?([\d.]+)px", css)]
    assert len(sizes) > 5
    assert min(sizes) >= 16
    assert not re.findall(r"font-size:\s*[\d.]+(?:em|rem|%|pt)", css)
    assert "width=device-width" in shipped[0].html
    for report in shipped:
        assert all(float(svg.attrs["font-size"]) >= 16 for svg in report.page.all("svg"))
        assert all(float(svg.attrs["viewbox"].split()[2]) <= 328 for svg in report.page.all("svg"))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_is_the_one_asked_for(paper: str, tiny_report: Callable[..., Report]) -> None:
    """The printed sheet has its size and its page numbers, and figures are not broken across two."""
    report = tiny_report(**DRIP)
    css = "".join(Page(report_html(report.assessment, report.book, report.about, paper=paper)).one("style").texts)  # type: ignore[arg-type]
    assert re.search(rf"@page {{ size: {paper};", css)
    assert "counter(page)" in css
    assert "counter(pages)" in css
    assert re.search(r"figure[^{]*{ break-inside: avoid; }", css)


# ------------------------------------------------------------------ nothing is missing


def shown(text: str) -> str:
    """A text as the page shows it."""
    return " ".join(text.replace("degC", "°C").split())


def what_matters(a: Assessment) -> list[str]:
    """The texts of an assessment that a reader must find."""
    found = [a.title, a.boat, a.departure.headline, a.departure.holds_until, title_of(a)[0], a.rules.version, a.rules.digest]
    for hold in a.holds:
        found += [hold.say, hold.cleared_by, hold.allowed, hold.overridden_by]
    for ranked in a.ranking:
        found += [ranked.title, f"{in_hundred(ranked.probability)} of 100"]
    for kept in a.limits:
        found += [kept.limit.say, kept.limit.number or "", kept.limit.then or ""]
    for fix in a.fixes:
        found += [fix.title, fix.proof, fix.proof_passes]
    for check in a.checks:
        found += [check.title, *check.steps, *check.restore, *check.setups, *(r.means or "" for r in check.results)]
    for seen in a.observations:
        found += [seen.title, seen.note or "", seen.by or ""]
    for firing in a.trace:
        found += [firing.rule, firing.why, firing.say or ""]
    found += [leak.arithmetic for leak in a.leaks]
    found += [*a.advice, *a.assumed, *a.not_seen]
    return [shown(text) for text in found if text]


def test_nothing_that_matters_is_missing(shipped: tuple[Report, ...]) -> None:
    """Decision, end, stops, every ranked line, limits, work, looks, observations, rules and assumptions stand on the page in whole."""
    for report in shipped:
        text = report.page.text.lower()
        missing = [part for part in what_matters(report.assessment) if part.lower() not in text]
        assert missing == [], report.name


def test_every_caution_stands_in_full_at_its_step(shipped: tuple[Report, ...]) -> None:
    """Each caution of a look or a job stands with its whole text in the section of that look or job, before its steps or its proof."""
    for report in shipped:
        page, cautions = report.page, report.book.cautions
        for i, check in enumerate(report.assessment.checks):
            text = section(page, f"check-{i + 1}")
            for name in check.cautions:
                assert text.index(shown(cautions[name].text)) < text.index(shown(check.steps[0]))
        for fix in report.assessment.fixes:
            text = section(page, f"job-{fix.job}")
            for name in fix.cautions:
                assert text.index(shown(cautions[name].text)) < text.index(shown(fix.proof))


def section(page: Page, name: str) -> str:
    """The text of the section labelled by the heading with this id."""
    return next(e for e in page.all("section") if e.attrs["aria-labelledby"] == name).text


ORDER = [
    "decision",
    "stops",
    "done",
    "boat",
    "observed",
    "ranking",
    "for-and-against",
    "hours-left",
    "rivals",
    "next-checks",
    "made-and-not",
    "work",
    "cautions",
    "limits",
    "arithmetic",
    "assumed",
    "scope",
    "sources",
    "rules",
    "signatures",
]


def test_the_decision_comes_first(shipped: tuple[Report, ...]) -> None:
    """The parts of a report stand in one order, the decision first and the signatures last, and all are always there."""
    for report in shipped:
        assert [e.attrs["id"] for e in report.page.all("h2")] == ORDER
        assert "not a survey" in report.page.text[:60]


def test_sources_are_counted_by_kind(shipped: tuple[Report, ...]) -> None:
    """The counts of the kinds add up to the whole, and every publication named is one that was used."""
    for report in shipped:
        text = section(report.page, "sources")
        whole = re.search(r"leans on (\d+) statements?", text)
        kinds = [int(n) for n in re.findall(r"(\d+) (?:published|common practice|from memory|computed)", text)]
        assert whole is not None
        assert len(kinds) == 4
        assert sum(kinds) == int(whole[1]) > 10
        assert f"Common practice of the trade ({kinds[1]})" in text


# ------------------------------------------------------------------ particulars


def test_what_is_not_known_is_said(tiny_report: Callable[..., Report]) -> None:
    """An assessment alone makes a whole report: who and when are 'not said', and there is room to sign for all four."""
    report = tiny_report(**DRIP)
    page = Page(report_html(report.assessment, report.book))
    assert "When not said" in page.text
    assert "Decided by not said" in page.text
    assert "Nothing is on record yet." in page.text
    rows = [e.text for e in page.all("th") if e.within("section") and e.attrs["scope"] == "row"]
    assert rows[-4:] == ["Seen by", "Decided by", "Done by", "Witness"]


def test_what_is_known_is_shown(tiny_report: Callable[..., Report]) -> None:
    """Names, moments, what was done, what it was and what it cost stand where they belong."""
    report = tiny_report(**DRIP)
    at = datetime(2026, 5, 3, 20, 40, tzinfo=timezone.utc)
    about = Particulars(
        decided_at=at,
        seen_by="Ana Brock",
        decided_by="Jon Brock",
        witness="Old Pim",
        seen_at={report.assessment.observations[0].id: datetime(2026, 5, 3, 19, 5)},
        changed=("Play was first told as none.",),
        found="The seal",
        done=(Deed("Pump renewed", when=at, by="Jon", engine_hours=1201.5, cost="210 crowns"),),
        costs=(("Pump", "180 crowns"),),
    )
    text = Page(report_html(report.assessment, report.book, about)).text
    for part in (
        "Sunday 3 May 2026, 20:40 (UTC+00:00)",
        "Decided by Jon Brock",
        "Old Pim",
        "Sunday 3 May 2026, 19:05",
        "Play was first told as none.",
        "What it was in the end: The seal",
        "Pump renewed. Sunday 3 May 2026, 20:40 (UTC+00:00). At 1201.5 engine hours. Done by Jon. Cost: 210 crowns.",
        "180 crowns",
    ):
        assert part in text
    assert "every ten seconds" in text
    assert "Drip under the pump (no" not in section(Page(report_html(report.assessment, report.book, about)), "decision")


def test_a_case_file_gives_its_particulars(tiny_report: Callable[..., Report]) -> None:
    """The boat as described, services, trip, events and times of a case stand in the report, without anything else being given."""
    report = tiny_report(
        **{
            **DRIP,
            "now": "2026-05-03T20:40:00",
            "note": "Found on the evening round.",
            "boat": {
                "name": "Tern",
                "engine_hours": 1200,
                "arrangement": {"pump-drive": "belt"},
                "serviced": {"coolant-pump": {"at_hours": 300}},
            },
            "trip": {
                "engine_hours": 5,
                "exposure": "coastal",
                "can_sail": True,
                "crew": 2,
                "aboard": {"spares": ["hose-clip"], "coolant": "2 L"},
            },
            "events": [{"event": "pump-work", "hours_ago": 12}],
        }
    )
    text = report.page.text
    for part in (
        "Sunday 3 May 2026, 20:40",
        "Found on the evening round.",
        "Pump drive by a belt",
        "Coolant pump renewed at 300 engine hours",
        "Pump lately renewed 12 engine hours ago",
        "Engine hours 5",
        "People aboard 2",
        "Spares aboard hose clip",
        "Coolant aboard 2 L",
    ):
        assert part in text


def test_an_observation_carries_all_that_was_said_of_it(tiny_report: Callable[..., Report]) -> None:
    """A row holds the sign, the grade with its meaning, the engine's state, how sure, by whom, and the note in quotes."""
    page = tiny_report(**DRIP).page
    rows = [e.text for e in page.all("tr") if "every ten seconds" in e.text]
    assert len(rows) == 1
    for part in ("Drip under the pump", "drip: drops fall", "cold", "sure", "Ana"):
        assert part in rows[0]
    assert any("99 °C" in e.text and "idling" in e.text for e in page.all("tr"))
    assert any("Header tank low" in e.text and "think so" in e.text for e in page.all("tr"))
    assert "Play of the pulley (cannot see)" in page.text


def test_work_that_the_case_tells_of_is_on_the_page(tiny_report: Callable[..., Report]) -> None:
    """What was done before stands with what happened, with what was found in it, and what was found and is there still."""
    work = {"jobs": ["renew-pump"], "hours_ago": 2.5, "found": {"renew-pump": []}, "not_cured": ["pump-bearing-worn"]}
    report = tiny_report(work=work)
    job, fault = report.book.jobs["renew-pump"], report.book.faults["pump-bearing-worn"]
    assert (job.title, "done, 2.5 engine hours ago at most; found in it: nothing wrong") in report.about.happened
    for text in (report.html, report.markdown):
        assert job.title in text
        assert "found for certain, and not cured yet" in text
    assert any(what.lower() == fault.title.lower() for what, _ in report.about.happened)
    named = tiny_report(work={**work, "found": {"renew-pump": ["pump-seal-worn"]}})
    assert any(when.endswith(f"found in it: {report.book.faults['pump-seal-worn'].title.lower()}") for _, when in named.about.happened)
    assert not tiny_report().about.happened


def test_a_sign_of_before_says_whether_it_counts(tiny_report: Callable[..., Report]) -> None:
    """Marked as of before, it counts once the case tells what was done."""
    seen = [{"symptom": "pump-weep", "grade": "drip", "state": "cold-stopped", "epoch": "before"}]
    alone, told = tiny_report(observations=seen), tiny_report(observations=seen, work={"jobs": ["renew-pump"]})
    assert "(before the work, not counted)" in alone.html
    assert "(before the work)" in told.html
    assert "not counted" not in told.html
