"""The case file: strict reading with file and line, what goes together, and the JSON Schema that editors use."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tiny
import yaml

from diagnose.case import SURE, Case, case_schema, load_case
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.knowledge.text import load as load_text

SHIPPED = sorted(shipped("cases").glob("**/*.yaml"))


def refused(path: Path) -> InputError:
    """The error that a case file gives."""
    with pytest.raises(InputError) as caught:
        load_case(path)
    return caught.value


def edited(folder: Path, old: str, new: str, **changes: Any) -> tuple[Path, int]:
    """A case file with one text replaced, and the line on which the new one stands."""
    text = tiny.text_of(tiny.case(**changes))
    assert old in text
    path = folder / "case.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path, text[: text.index(old)].count("\n") + 1


def test_a_case_is_read(tmp_path: Path) -> None:
    """A case file gives the case it says."""
    case = load_case(tiny.write_case(tmp_path / "case.yaml", note="all well"))
    assert case.boat.name == "Tern"
    assert case.boat.engine_hours == 1200
    assert [(o.symptom, o.grade, o.sure) for o in case.observations] == [("pump-weep", "none", "sure"), ("pump-level-low", "none", "sure")]
    assert case.note == "all well"


def test_the_least_case(tmp_path: Path) -> None:
    """Why the case was opened is all that must be said; everything else is left open."""
    path = tmp_path / "case.yaml"
    path.write_text("opened_because: routine-look\n", encoding="utf-8")
    case = load_case(path)
    assert case.observations == ()
    assert case.trip.engine_hours is None
    assert case.boat.engine_hours is None


@pytest.mark.parametrize(
    ("old", "new", "message", "right"),
    [
        ("opened_because:", "opend_because:", "key 'opend_because' is not known here", "opened_because"),
        ("  engine_hours: 1200", "  engine_hous: 1200", "key 'engine_hous' is not known here", "engine_hours"),
        ("  can_sail:", "  cansail:", "key 'cansail' is not known here", "can_sail"),
        ("observations:", "observation:", "key 'observation' is not known here", "observations"),
        ("- symptom:", "- symptm:", "key 'symptm' is not known here", "symptom"),
        ("  state:", "  stat:", "key 'stat' is not known here", "state"),
    ],
)
def test_a_misspelt_key_gets_its_line_and_nearest_name(tmp_path: Path, old: str, new: str, message: str, right: str) -> None:
    """A key that is not known is named with its line and the key it is most like."""
    path, line = edited(tmp_path, old, new)
    error = refused(path)
    assert error.what == message
    assert error.where == f"{path}, line {line}"
    assert error.right.split(" or ")[0] == right


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("opened_because: routine-look", "opened_because: bored", "routine-look"),
        ("engine_hours: 1200", "engine_hours: -1", "greater than or equal to 0"),
        ("engine_hours: 1200", "engine_hours: 900000", "less than or equal to 200000"),
        ("engine_hours: 1200", "engine_hours: plenty", "valid number"),
        ("engine_hours: 4\n", "engine_hours: 0\n", "greater than 0"),
        ("can_sail: true", "can_sail: perhaps", "boolean"),
        ("state: cold-stopped", "state: tepid", "cold-stopped"),
        ("grade: none", "grade: None at all", "match pattern"),
        ("schema: 1", "schema: 3", "should be 1"),
    ],
)
def test_a_wrong_value_gets_its_line(tmp_path: Path, old: str, new: str, message: str) -> None:
    """A value out of its range, of a wrong type or not on its list is named with its line and what is allowed."""
    path, line = edited(tmp_path, old, new)
    error = refused(path)
    assert message in error.what
    assert error.where == f"{path}, line {line}"


@pytest.mark.parametrize(
    ("text", "message", "line"),
    [
        ("- a\n- b\n", "is not a map of keys", 1),
        ("just words\n", "is not a map of keys", 1),
        ("title: x\n", "key 'opened_because' is missing", 1),
        ("opened_because: routine-look\nobservations:\n  - symptom: pump-weep\n    sure: no\n", "'no' is read as true or false", 4),
        ("opened_because: routine-look\nobservations: []\nobservations: []\n", "key 'observations' is repeated", 3),
        ("opened_because: routine-look\nboat:\n  serviced:\n    coolant-pump: {}\n", "say at_hours, hours_ago or on", 4),
        ("opened_because: routine-look\ntrip: {leaving: tomorrow}\n", "datetime", 2),
    ],
)
def test_a_file_that_is_no_case(tmp_path: Path, text: str, message: str, line: int) -> None:
    """Each file that is no case is refused with its line."""
    path = tmp_path / "case.yaml"
    path.write_text(text, encoding="utf-8")
    error = refused(path)
    assert message in error.what
    assert error.where == f"{path}, line {line}"


@pytest.mark.parametrize(
    "answer",
    [
        {},
        {"grade": "none", "value": "3 L"},
        {"grade": "none", "at_least": "damp"},
        {"grade": "none", "one_of": ["none"]},
        {"sure": "guess"},
    ],
)
def test_an_observation_is_one_answer(tmp_path: Path, answer: dict[str, Any]) -> None:
    """No answer, or two in one observation, are refused with the line of the observation."""
    path = tiny.write_case(tmp_path / "case.yaml", observations=[{"symptom": "pump-weep", **answer}])
    error = refused(path)
    assert "exactly one of grade, at_least, one_of, value" in error.what
    assert error.where.startswith(f"{path}, line ")


@pytest.mark.parametrize("sure", ["not-sure", "cannot-see"])
def test_what_could_not_be_seen_needs_no_answer(sure: str) -> None:
    """Who is not sure, or cannot see, need not give a grade."""
    case = Case.model_validate(tiny.case(observations=[{"symptom": "pump-weep", "sure": sure}]))
    assert SURE[case.observations[0].sure] == 0


def test_a_case_cannot_be_changed() -> None:
    """A case once read stays as it is."""
    case = Case.model_validate(tiny.case())
    with pytest.raises(ValueError, match="frozen"):
        case.title = "another"  # type: ignore[misc]


@pytest.mark.parametrize("name", ["ghost.yaml", "."])
def test_no_such_case(tmp_path: Path, name: str) -> None:
    """A file that is not there, or a folder, is named."""
    assert str(tmp_path) in refused(tmp_path / name).where


# ------------------------------------------------------------------ the schema for editors


@pytest.fixture(scope="module")
def shipped_schema() -> dict[str, Any]:
    """The schema of a case on the shipped rules."""
    return case_schema(load_rules())


@pytest.fixture(scope="module")
def tiny_schema(tiny_book: Book) -> dict[str, Any]:
    """The schema of a case on the tiny book."""
    return case_schema(tiny_book)


def faults_of(case: dict[str, Any], schema: dict[str, Any]) -> list[str]:
    """What the schema finds wrong with a case, as paths."""
    return sorted("/".join(map(str, e.absolute_path)) for e in jsonschema.Draft202012Validator(schema).iter_errors(case))


def test_the_schema_is_a_schema(shipped_schema: dict[str, Any], tiny_schema: dict[str, Any]) -> None:
    """Both schemas are valid against the meta-schema they name."""
    for schema in (shipped_schema, tiny_schema):
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_every_shipped_case_fits_the_schema(path: Path, shipped_schema: dict[str, Any]) -> None:
    """Each shipped case is what an editor with the schema would accept."""
    assert faults_of(load_text(path).data, shipped_schema) == []


def test_a_sound_case_fits_the_schema(tiny_schema: dict[str, Any]) -> None:
    """A case with an observation of every kind fits."""
    case = tiny.case(
        observations=[
            tiny.observation("pump-weep", "drip", note="x"),
            {"symptom": "pump-gauge-high", "value": "95 degC"},
            {"symptom": "pump-play", "sure": "cannot-see"},
            {"symptom": "pump-weep", "at_least": "damp", "state": "idle"},
        ],
        events=[{"event": "pump-work", "hours_ago": 3}],
        boat={
            "arrangement": {"cooling": "raw", "expansion-bottle": False, "hours-a-year": "80 hour"},
            "serviced": {"coolant-pump": {"hours_ago": 30}, "drive-belt": {"on": "2025-05-01"}},
        },
        trip={"exposure": "offshore", "aboard": {"spares": ["pump-kit"], "water": "5 L"}},
        work={"jobs": ["renew-pump"], "hours_ago": 3, "found": {"renew-pump": ["pump-seal-worn"]}, "not_cured": ["pump-bearing-worn"],
              "renewed": {"coolant-pump": {"hours_ago": 700}, "drive-belt": None}},
    )
    assert faults_of(case, tiny_schema) == []


MISTAKES: dict[str, tuple[dict[str, Any], str]] = {
    "a misspelt key": ({"titel": "x"}, ""),
    "a misspelt key of the boat": ({"boat": {"nmae": "x"}}, "boat"),
    "a misspelt key of an observation": ({"observations": [{"symptom": "pump-weep", "grad": "none"}]}, "observations/0"),
    "an unknown symptom": ({"observations": [{"symptom": "pump-wep", "grade": "none"}]}, "observations/0/symptom"),
    "a grade of another scale": ({"observations": [{"symptom": "pump-weep", "grade": "moves"}]}, "observations/0/grade"),
    "an unknown state": ({"observations": [{"symptom": "pump-weep", "grade": "none", "state": "tepid"}]}, "observations/0/state"),
    "an unknown event": ({"events": [{"event": "pump-wrok"}]}, "events/0/event"),
    "an unknown fact": ({"boat": {"arrangement": {"coling": "raw"}}}, "boat/arrangement"),
    "an unknown value": ({"boat": {"arrangement": {"cooling": "rwa"}}}, "boat/arrangement/cooling"),
    "no flag": ({"boat": {"arrangement": {"expansion-bottle": "yes"}}}, "boat/arrangement/expansion-bottle"),
    "an unknown service item": ({"boat": {"serviced": {"pump": {"hours_ago": 3}}}}, "boat/serviced"),
    "an unknown exposure": ({"trip": {"exposure": "lunar"}}, "trip/exposure"),
    "an unknown part": ({"trip": {"aboard": {"spares": ["pump-kti"]}}}, "trip/aboard/spares/0"),
    "an unknown job": ({"work": {"jobs": ["renew-pmup"]}}, "work"),
    "a job that was not there to find in": ({"work": {"jobs": ["renew-pump"], "found": {"renew-pmup": []}}}, "work"),
    "an unknown fault left": ({"work": {"not_cured": ["pump-seal-wron"]}}, "work"),
    "an unknown service item renewed": ({"work": {"jobs": ["renew-pump"], "renewed": {"pmup": None}}}, "work"),
    "a reason nobody has": ({"opened_because": "bored"}, "opened_because"),
}


@pytest.mark.parametrize("what", MISTAKES)
def test_the_schema_finds_a_mistake(what: str, tiny_schema: dict[str, Any]) -> None:
    """Each mistake a writer can make is found where it stands, and nothing else is."""
    change, path = MISTAKES[what]
    assert faults_of(tiny.case(**change), tiny_schema) == [path]


def test_a_missing_reason_is_found_by_the_schema(tiny_schema: dict[str, Any]) -> None:
    """Why the case was opened may not be left out."""
    case = tiny.case()
    del case["opened_because"]
    assert faults_of(case, tiny_schema) == [""]


def test_what_fits_the_schema_can_be_loaded(shipped_schema: dict[str, Any]) -> None:
    """The keys of the schema are those of the model, so that an editor and the program agree on every key."""
    fields = {field.alias or name for name, field in Case.model_fields.items()}
    assert set(shipped_schema["properties"]) == fields
    assert shipped_schema["additionalProperties"] is False
    assert all(part["additionalProperties"] is False for part in shipped_schema["$defs"].values() if part.get("type") == "object")


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_every_shipped_case_loads_and_says_why(path: Path) -> None:
    """Each shipped case is read, is marked as invented, and says what is expected and why."""
    case = load_case(path)
    assert case.invented
    assert case.expect is not None
    assert yaml.safe_load(path.read_text(encoding="utf-8"))["expect"]["why"]


def test_work_names_a_job_or_a_fault_left(tmp_path: Path) -> None:
    """Work without a job done or a fault found and left tells nothing, and is refused."""
    with pytest.raises(InputError, match="say jobs, or faults not_cured"):
        load_case(tiny.write_case(tmp_path / "case.yaml", work={"hours_ago": 3}))
    told = load_case(tiny.write_case(tmp_path / "case.yaml", work={"not_cured": ["pump-seal-worn"]})).work
    assert told is not None
    assert told.not_cured == ("pump-seal-worn",)
