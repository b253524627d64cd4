"""Loading a book: the file, the line and the nearest name of what does not fit; the digest; old ids; retired entries."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import tiny

from diagnose.case import Case
from diagnose.errors import RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import digest_of, load_rules, read_all, shipped
from diagnose.triage import assess

PUMP = "coolant/pump.yaml"


def refused(folder: Path) -> RuleError:
    """The error that a folder of rules gives."""
    with pytest.raises(RuleError) as caught:
        load_rules(folder)
    return caught.value


def edited(name: str, old: str, new: str) -> dict[str, Any]:
    """The tiny book with one text of one of its files replaced, once."""
    parts = tiny.parts()
    text = tiny.text_of(parts[name])
    assert old in text
    parts[name] = text.replace(old, new, 1)
    return parts


def line_of(parts: dict[str, Any], name: str, part: str) -> int:
    """The line, from 1, on which a text first stands in a file of the parts."""
    lines = tiny.text_of(parts[name]).splitlines()
    return next(i for i, line in enumerate(lines, 1) if part in line)


# ------------------------------------------------------------------ keys and types

MISSPELT = [
    (PUMP, "told_from:", "told_form:", "key 'told_form' is not known here", "told_from"),
    (PUMP, "per_year:", "per_yaer:", "key 'per_yaer' is not known here", "per_year"),
    (PUMP, "  states:", "  state:", "key 'state' is not known here", "states"),
    (PUMP, "live_when:", "live_wen:", "key 'live_wen' is not known here", "live_when"),
    (PUMP, "every_minutes:", "every_minuts:", "key 'every_minuts' is not known here", "every_minutes"),
    (PUMP, "engine_state:", "engine_stat:", "key 'engine_stat' is not known here", "engine_state"),
    (PUMP, "component: pump", "componet: pump", "key 'componet' is not known here", "component"),
    ("shared/words.yaml", "stay_hours:", "stay_hour:", "key 'stay_hour' is not known here", "stay_hours"),
    ("shared/boat.yaml", "default:", "defualt:", "key 'defualt' is not known here", "default"),
    ("shared/cautions.yaml", "text:", "txt:", "key 'txt' is not known here", "text"),
    ("shared/sources.yaml", "edition:", "editon:", "key 'editon' is not known here", "edition"),
    ("shared/look-over.yaml", "covers:", "cover:", "key 'cover' is not known here", "covers"),
]


@pytest.mark.parametrize(("name", "old", "new", "message", "right"), MISSPELT, ids=[m[2] for m in MISSPELT])
def test_a_misspelt_key_gets_its_file_line_and_nearest_name(
    write_rules: Any, name: str, old: str, new: str, message: str, right: str
) -> None:
    """A key that is not known is named with the file, its line, and the key it is most like."""
    parts = edited(name, old, new)
    error = refused(write_rules(parts))
    assert error.what == message
    assert error.where == f"{name}, line {line_of(parts, name, new)}"
    assert error.right.split(" or ")[0] == right


WRONG = [
    (PUMP, "per_year: 0.05", "per_year: often", r"rate\.per_year"),
    (PUMP, "per_year: 0.05", "per_year: 9", "less than 5"),
    (PUMP, "per_year: 0.05", "per_year: -1", "greater than 0"),
    (PUMP, "spread: 3", "spread: 1", "greater than or equal to 1.2"),
    (PUMP, "shape: 2.5", "shape: [2.5]", r"ages_with\.shape"),
    (PUMP, "id: pump-seal-worn", "id: Pump Seal", "match pattern"),
    (PUMP, "chance: 0.3", "chance: 1.5", "less than 1"),
    (PUMP, "kind: memory", "kind: rumour", "published"),
    (PUMP, "verb: look", "verb: hope", "carry"),
    (PUMP, "schema: 1", "schema: 2", "should be 1"),
    ("shared/words.yaml", "version: 1.2.3", "version: '1'", "match pattern"),
    ("shared/words.yaml", "idle: Idling", "idling: Idling", "under-load"),
    ("shared/boat.yaml", "flag: true", "flag: maybe", "boolean"),
]


@pytest.mark.parametrize(("name", "old", "new", "message"), WRONG, ids=[m[2] for m in WRONG])
def test_a_wrong_value_gets_its_file_and_line(write_rules: Any, name: str, old: str, new: str, message: str) -> None:
    """A value of a wrong type, outside its range or not on its list is named with the file and its line."""
    parts = edited(name, old, new)
    error = refused(write_rules(parts))
    assert re.search(message, error.what)
    assert error.where == f"{name}, line {line_of(parts, name, new)}"


MISSING = [
    (["faults", 0, "rate"], "- id: pump-seal-worn"),
    (["symptoms", 1, "mistaken_for"], "- id: pump-play"),
    (["checks", 0, "cost", "first_time"], "  cost:"),
    (["jobs", 0, "proof"], "- id: renew-pump"),
    (["rules", 0, "why"], "- id: weep-and-low"),
    (["title"], "schema: 1"),
]


@pytest.mark.parametrize(("path", "entry"), MISSING, ids=[m[1] for m in MISSING])
def test_a_missing_key_is_named_with_its_entry(write_rules: Any, path: list[Any], entry: str) -> None:
    """A key left out is named, with the line on which its entry begins."""
    parts = tiny.parts()
    holder = parts[PUMP]
    for step in path[:-1]:
        holder = holder[step]
    del holder[path[-1]]
    error = refused(write_rules(parts))
    assert error.what == f"key '{path[-1]}' is missing"
    assert error.where == f"{PUMP}, line {line_of(parts, PUMP, entry)}"


HALVES = [
    ({"source": {"kind": "published"}}, "a source of kind published needs 'ref'"),
    ({"source": {"kind": "memory"}}, "needs 'believed'"),
    ({"source": {"kind": "computed"}}, "needs 'computed'"),
    ({"stages": [{"id": "weeping", "title": "w", "lasts": [300, 30]}]}, "0 < short < long"),
    ({"stages": []}, "at least 1 item"),
    ({"stages": [{"id": f"s{i}", "title": "s", "lasts": [1, 2]} for i in range(5)]}, "at most 4 items"),
    (
        {"shows": [{"symptom": "pump-weep", "condition": "pump-hot", "at_least": {"damp": "often"}, "why": "w"}]},
        "exactly one of symptom, condition",
    ),
    ({"shows": [{"symptom": "pump-weep", "why": "w"}]}, "exactly one of at_least, by"),
    ({"live_when": {"fact": "cooling", "is": "raw", "all": []}}, "has exactly one of all, any, not"),
    ({"live_when": {"fact": "cooling"}}, "'fact' needs exactly one of"),
    ({"live_when": {"fact": "cooling", "is": "raw", "one_of": ["raw"]}}, "'fact' needs exactly one of"),
    ({"live_when": {"fact": "cooling", "over": 0.5}}, "'over' does not go with 'fact'"),
    ({"live_when": {}}, "this one has none"),
]


@pytest.mark.parametrize(("change", "message"), HALVES, ids=[m[1] for m in HALVES])
def test_keys_that_belong_together(write_rules: Any, change: dict[str, Any], message: str) -> None:
    """Half an entry, or two halves that exclude each other, are refused with the rule between the keys, file and line."""
    parts = tiny.parts()
    parts[PUMP]["faults"][0].update(change)
    error = refused(write_rules(parts))
    assert message in error.what
    assert error.where.startswith(f"{PUMP}, line ")


THENS = [
    ({"finding": "a", "say": "s", "advice": "b"}, "exactly one of finding"),
    ({"say": "s"}, "exactly one of finding"),
    ({"finding": "a"}, "finding needs 'say'"),
    ({"advice": "a"}, "advice needs 'say'"),
    ({"fact": "cooling"}, "a fact needs 'is'"),
    ({"hold": "a", "say": "s", "stops": "leave", "kind": "fire", "cleared_by": "c"}, "a hold needs allowed, overridden_by"),
]


@pytest.mark.parametrize(("then", "message"), THENS, ids=[m[1] for m in THENS])
def test_what_a_rule_makes_is_whole(write_rules: Any, then: dict[str, Any], message: str) -> None:
    """A rule makes one thing, and says all that belongs to it."""
    parts = tiny.with_rules(tiny.rule("the-rule", {"symptom": "pump-weep", "is": "drip"}, then))
    error = refused(write_rules(parts))
    assert message in error.what
    assert error.where == f"{PUMP}, line {line_of(parts, PUMP, '- id: the-rule') + 4}"


FACTS = [
    ({"flag": True, "unit": "L", "possible": [0, 1]}, "exactly one of values, flag, unit"),
    ({}, "exactly one of values, flag, unit"),
    ({"unit": "L"}, "needs 'possible'"),
]


@pytest.mark.parametrize(("kind", "message"), FACTS, ids=[m[1] + str(i) for i, m in enumerate(FACTS)])
def test_a_boat_fact_is_of_one_kind(write_rules: Any, kind: dict[str, Any], message: str) -> None:
    """A fact of the boat is a choice, a flag or a number with what is possible."""
    parts = tiny.parts()
    parts["shared/boat.yaml"]["facts"].append({"id": "new-fact", "title": "t", "ask": "?", "default": 1, "why": "w", **kind})
    error = refused(write_rules(parts))
    assert message in error.what
    assert error.where == f"shared/boat.yaml, line {line_of(parts, 'shared/boat.yaml', 'new-fact')}"


# ------------------------------------------------------------------ folders and files


def test_no_such_folder(tmp_path: Path) -> None:
    """A folder that is not there, or a file in its place, is refused with what would be right."""
    for path in (tmp_path / "ghost", tiny.write_case(tmp_path / "case.yaml")):
        error = refused(path)
        assert error.what == "is not a folder of rules"
        assert "words.yaml" in error.right


def test_an_empty_folder(tmp_path: Path) -> None:
    """A folder without rule files is refused: nothing loaded is an error."""
    (tmp_path / "notes.txt").write_text("no rules here", encoding="utf-8")
    assert refused(tmp_path).what == "holds no rule files"


@pytest.mark.parametrize("name", ["words", "boat", "cautions", "sources", "look-over"])
def test_a_shared_file_is_missing(write_rules: Any, name: str) -> None:
    """Each shared word list must be there, and the missing one is named."""
    parts = tiny.parts()
    del parts[f"shared/{name}.yaml"]
    assert f"file {name}.yaml is missing" in refused(write_rules(parts)).what


def test_a_broken_file_is_named(write_rules: Any) -> None:
    """What the strict reader refuses becomes an error of the rules, with file and line."""
    parts = edited(PUMP, "title: Coolant pump\n", "title: Coolant pump\ntitle: twice\n")
    error = refused(write_rules(parts))
    assert error.what == "key 'title' is repeated"
    assert error.where == f"{PUMP}, line {line_of(parts, PUMP, 'title: twice')}"


def test_a_file_that_is_a_list(write_rules: Any) -> None:
    """A rule file is a map of keys."""
    assert "not a map" in refused(write_rules({**tiny.parts(), "other.yaml": "- a\n- b\n"})).what


def test_a_file_that_is_not_text(write_rules: Any) -> None:
    """Bytes that are no text are refused with the name of the file."""
    folder = write_rules(tiny.parts())
    (folder / "coolant" / "noise.yaml").write_bytes(b"\xff\xfe\x00\x01")
    assert refused(folder).where.endswith("noise.yaml")


def test_a_component_in_two_files(write_rules: Any) -> None:
    """Two files of one component are refused, and both are named."""
    parts = tiny.parts()
    error = refused(write_rules({**parts, "fuel/copy.yaml": parts[PUMP]}))
    assert error.what == "component 'pump' is also in coolant/pump.yaml"
    assert error.where == "fuel/copy.yaml, line 2"


def test_other_files_are_left_alone(write_rules: Any) -> None:
    """Only files ending in .yaml are rules: notes and drafts beside them are not read."""
    folder = write_rules(tiny.parts())
    before = load_rules(folder).digest
    (folder / "coolant" / "notes.md").write_text("on: off", encoding="utf-8")
    assert load_rules(folder).digest == before


# ------------------------------------------------------------------ digest


def test_moving_files_changes_nothing(write_rules: Any) -> None:
    """With a file under another name, and so in another place of the list, the digest and the result are the same, to the byte."""
    parts = tiny.parts()
    moved = {name if name.startswith("shared") else f"zebra/deep/{i}.yaml": part for i, (name, part) in enumerate(parts.items())}
    one, other = load_rules(write_rules(parts)), load_rules(write_rules(moved))
    assert one.digest == other.digest
    assert one.files != other.files
    case = Case.model_validate(tiny.case(observations=[tiny.observation("pump-weep", "drip")]))
    assert assess(case, one).result_json() == assess(case, other).result_json()


def test_every_change_of_text_changes_the_digest() -> None:
    """One letter more anywhere, a file more or a file less, gives another digest."""
    parts = {name: tiny.text_of(part) for name, part in tiny.parts().items()}
    digests = {digest_of(parts), digest_of({**parts, "x.yaml": "# nothing\n"}), digest_of({n: t for n, t in parts.items() if n != PUMP})}
    digests |= {digest_of({**parts, name: text + "#"}) for name, text in parts.items()}
    assert len(digests) == 3 + len(parts)
    assert all(re.fullmatch("[0-9a-f]{64}", d) for d in digests)


def test_text_that_slips_from_one_file_to_the_next_changes_the_digest() -> None:
    """Where one file ends and the next begins is part of the digest."""
    assert digest_of({"a": "xy", "b": "z"}) != digest_of({"a": "x", "b": "yz"})


def test_line_ends_make_no_difference(write_rules: Any, tiny_book: Book) -> None:
    """A book checked out with Windows line ends is the same book, entry by entry."""
    folder = write_rules(tiny.parts())
    for path in folder.rglob("*.yaml"):
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_rules(folder).components == tiny_book.components


def test_a_changed_file_is_read_again(write_rules: Any) -> None:
    """Loading the same folder after an edit gives the edited book."""
    folder = write_rules(tiny.parts())
    assert load_rules(folder).version == "1.2.3"
    tiny.write(folder, {"shared/words.yaml": {**tiny.words(), "version": "1.2.4"}})
    assert load_rules(folder).version == "1.2.4"


def test_the_shipped_rules_are_found() -> None:
    """Without a folder the rules beside the package are read."""
    assert "shared/words.yaml" in read_all(shipped("rules"))


# ------------------------------------------------------------------ old ids and retired entries


def with_changed_ids() -> dict[str, Any]:
    """The tiny book after a renaming: the drip's symptom, the seal's fault and the event have had other ids."""
    parts = tiny.parts()
    pump = parts[PUMP]
    pump["symptoms"][0]["was"] = ["old-weep"]
    pump["faults"][0]["was"] = ["old-seal", "older-seal"]
    pump["events"][0]["was"] = ["old-work"]
    return parts


def test_old_ids_go_on_working_in_cases(write_rules: Any) -> None:
    """A case written with old ids gives what one with the new ids gives, to the byte."""
    book = load_rules(write_rules(with_changed_ids()))
    results = [
        assess(
            Case.model_validate(tiny.case(observations=[tiny.observation(weep, "drip")], events=[{"event": work, "hours_ago": 3}])), book
        ).result_json()
        for weep, work in (("old-weep", "old-work"), ("pump-weep", "pump-work"))
    ]
    assert results[0] == results[1]


def test_old_ids_lead_to_new_ones(write_rules: Any) -> None:
    """Every old id leads to the id that stands for it now."""
    renamed = load_rules(write_rules(with_changed_ids())).renamed
    assert renamed == {"old-weep": "pump-weep", "old-seal": "pump-seal-worn", "older-seal": "pump-seal-worn", "old-work": "pump-work"}


def test_an_old_id_cannot_be_used_again(write_rules: Any) -> None:
    """An id once used stays taken, even by an entry of another kind."""
    parts = with_changed_ids()
    parts[PUMP]["checks"][0]["id"] = "old-seal"
    assert "'old-seal' is already used" in refused(write_rules(parts)).what


def test_retired_entries_are_left_out(write_rules: Any) -> None:
    """A retired rule never fires and a retired check is never suggested, but their ids stay taken."""
    parts = tiny.parts()
    pump = parts[PUMP]
    pump["rules"].append(tiny.rule("old-rule", {"symptom": "pump-weep", "at_least": "damp"}, tiny.hold("old-hold"), status="retired"))
    pump["checks"].append(tiny.check("old-check", ["pump-play"], status="retired"))
    book = load_rules(write_rules(parts))
    assert "old-rule" not in book.rules
    assert "old-check" not in book.checks
    case = Case.model_validate(tiny.case(observations=[tiny.observation("pump-weep", "drip")]))
    assert [h.id for h in assess(case, book).holds] == []
    pump["jobs"][0]["id"] = "old-check"
    assert "already used" in refused(write_rules(parts)).what


def test_nothing_may_lean_on_a_retired_entry(write_rules: Any) -> None:
    """A fault told from a rival by a retired check is refused like one that names a check nobody wrote."""
    parts = tiny.parts()
    parts[PUMP]["checks"][1]["status"] = "retired"
    error = refused(write_rules(parts))
    assert error.what == "check 'rock-pump' is not in the book"


def test_a_case_on_a_retired_symptom_is_refused(write_rules: Any) -> None:
    """A retired symptom without a successor can no longer be answered."""
    from diagnose.errors import InputError

    parts = tiny.parts()
    parts[PUMP]["symptoms"].append(
        tiny.symptom("old-sign", "Old sign", ["idle"], {"none": "nothing", "some": "something"}, {"some": "rare"}, status="retired")
    )
    book = load_rules(write_rules(parts))
    with pytest.raises(InputError, match="'old-sign' is not in the book"):
        assess(Case.model_validate(tiny.case(observations=[tiny.observation("old-sign", "some", "idle")])), book)
