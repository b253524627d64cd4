"""The shape of the package: short functions and modules, a docstring on what is public, each library in its one place."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.knowledge.load import load_rules

PACKAGE = Path(__file__).parents[1] / "diagnose"
MODULES = {path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text(encoding="utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}
LONGEST_FUNCTION = 60
LONGEST_MODULE = 600

Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
every_module = pytest.mark.parametrize("name", MODULES)


def definitions(node: ast.AST, *, within: str = "") -> Iterator[tuple[str, Definition]]:
    """All functions and classes of a module with their dotted names, those in classes and functions included."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, Definition):
            yield f"{within}{child.name}", child
        yield from definitions(child, within=f"{within}{child.name}." if isinstance(child, Definition) else within)


def is_public(name: str, module: ast.Module) -> bool:
    """Whether a dotted name can be used from outside: no part of it is private, and none stands inside a function."""
    holders = [d for n, d in definitions(module) if name.startswith(f"{n}.")]
    return not any(part.startswith("_") for part in name.split(".")) and all(isinstance(h, ast.ClassDef) for h in holders)


def is_property(definition: Definition) -> bool:
    """Whether it is read like a value; its name and type say what it is."""
    return any(getattr(d, "id", "") in ("property", "cached_property") for d in definition.decorator_list)


def imports(module: ast.Module) -> Iterator[str]:
    """Top-level names of all packages a module imports anywhere in it, for type checking included."""
    for node in ast.walk(module):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield str(node.module).partition(".")[0]


def users_of(*packages: str) -> set[str]:
    """Modules that import any of these packages."""
    return {name for name, module in MODULES.items() if set(packages) & set(imports(module))}


def test_there_is_something_to_look_at() -> None:
    """The package was found, sub-packages included."""
    assert {"__init__.py", "cli.py", "chain/durable.py", "knowledge/model.py", "network/nodes.py", "show/page.py"} <= set(MODULES)


@every_module
def test_no_function_is_too_long(name: str) -> None:
    """No function has over sixty lines."""
    functions = [(n, d) for n, d in definitions(MODULES[name]) if not isinstance(d, ast.ClassDef)]
    assert {n: d.end_lineno - d.lineno + 1 for n, d in functions if d.end_lineno - d.lineno >= LONGEST_FUNCTION} == {}  # type: ignore[operator]


@every_module
def test_no_module_is_too_long(name: str) -> None:
    """No module has over six hundred lines."""
    assert len((PACKAGE / name).read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


@every_module
def test_what_is_public_says_what_it_is(name: str) -> None:
    """Every module, public class, function and method opens with a docstring."""
    module = MODULES[name]
    silent = [n for n, d in definitions(module) if is_public(n, module) and not is_property(d) and not ast.get_docstring(d)]
    assert silent == []
    assert ast.get_docstring(module)


def strings(module: ast.Module) -> set[str]:
    """All texts that stand in a module as literals, docstrings aside."""
    docs = {
        id(n.body[0].value)
        for n in ast.walk(module)
        if isinstance(n, Definition | ast.Module) and n.body and isinstance(n.body[0], ast.Expr)
    }
    return {n.value for n in ast.walk(module) if isinstance(n, ast.Constant) and isinstance(n.value, str) and id(n) not in docs}


def test_no_entry_of_the_book_is_named_in_the_program() -> None:
    """Knowledge stands in the rules: no id of a symptom, condition, fault, check, job, rule, event or hold is a literal of the program."""
    book = load_rules()
    ids = {
        name
        for kind in ("readings", "calculations", "symptoms", "conditions", "faults", "checks", "jobs", "rules", "events", "cautions",
                     "sources")
        for name in getattr(book, kind)
    }
    ids |= {name for rule in book.rules.values() for name in (rule.then.hold, rule.then.finding, rule.then.advice) if name} | set(
        book.renamed
    )
    assert len(ids) > 300
    assert {name: sorted(strings(module) & ids) for name, module in MODULES.items() if strings(module) & ids} == {}


def test_no_word_of_the_shared_lists_is_named_in_the_program() -> None:
    """No fact, figure, part, exposure, set-up or service item is a literal of the program: the book says which is meant for what."""
    book = load_rules()
    words = {*book.facts, *book.figures, *book.words.parts, *book.words.exposures, *book.words.setups, *book.words.service_items}
    words -= {"coolant"}  # also the name of a fluid in the model of leaks
    told = (strings(module) for name, module in MODULES.items() if not name.startswith("measure/"))  # those name parameters of formulas
    assert set().union(*told) & words == set()


def test_one_module_drives_the_engine() -> None:
    """Only chain/durable.py names the engine's module, in code or in text, and nothing uses the package around it."""
    assert {name for name in MODULES if "durable_rules_engine" in (PACKAGE / name).read_text(encoding="utf-8")} == {"chain/durable.py"}
    assert users_of("durable") == set()


def test_one_module_converts_units() -> None:
    """Only units.py imports pint."""
    assert users_of("pint") == {"units.py"}


def test_only_the_command_and_the_pages_print() -> None:
    """Only the command imports click, only it and show/ import rich, and nothing else prints."""
    assert {name for name in users_of("click") if not name.startswith("commands/")} == {"cli.py"}
    assert {name for name in users_of("rich") if not name.startswith("show/")} == {"commands/common.py"}
    for name, module in MODULES.items():
        calls = {getattr(n.func, "id", "") for n in ast.walk(module) if isinstance(n, ast.Call)}
        assert "print" not in calls, name


def test_only_the_reader_of_rules_parses_yaml() -> None:
    """Only knowledge/text.py imports the YAML library, so that nothing is read but strictly."""
    assert users_of("yaml") == {"knowledge/text.py"}


DEPENDENCIES = {"click", "durable_rules_engine", "jinja2", "numpy", "pint", "platformdirs", "pydantic", "rapidfuzz", "rich", "yaml"}


def test_every_package_used_is_declared() -> None:
    """What is imported beyond the standard library is declared as a dependency of the package, and nothing else is."""
    import sys

    used = set().union(*(set(imports(module)) for module in MODULES.values())) - set(sys.stdlib_module_names) - {"diagnose"}
    assert used == DEPENDENCIES
    declared = (PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8").partition("dependencies = [")[2].partition("]")[0]
    for package in used:
        assert f'"{ {"yaml": "pyyaml", "durable_rules_engine": "durable-rules"}.get(package, package) }' in declared


LAYERS = ("errors.py", "units.py", "knowledge/", "chain/", "network/", "measure/")
"""Lower layers, which know nothing of cases, decisions and pages; checks that run examples import the rest late."""


@pytest.mark.parametrize("name", [name for name in MODULES if name.startswith(LAYERS)])
def test_lower_layers_do_not_look_up(name: str) -> None:
    """Rules, chain, network and measures import neither the decision nor the pages nor the command."""
    upper = {"diagnose.triage", "diagnose.decide", "diagnose.looks", "diagnose.cli", "diagnose.commands", "diagnose.show"}
    top = [n for n in MODULES[name].body if isinstance(n, ast.ImportFrom)]
    assert {str(n.module) for n in top} & upper == set()


def test_nothing_is_configured_at_import() -> None:
    """No module sets up logging, changes warnings or reads the environment when it is imported."""
    for name, module in MODULES.items():
        for statement in module.body:
            if isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Call):
                raise AssertionError(f"{name} calls something when it is imported")


def test_no_loose_ends() -> None:
    """No module holds a mark of work left undone."""
    for name in MODULES:
        text = (PACKAGE / name).read_text(encoding="utf-8")
        assert not re.findall(r"\b(?:TODO|FIXME|XXX)\b", text), name


def test_what_is_tested_has_a_reason(request: pytest.FixtureRequest) -> None:
    """Every test of the suite says in a docstring what it shows."""
    for path in sorted(Path(__file__).parent.rglob("test_*.py")):
        tests = [(n, d) for n, d in definitions(ast.parse(path.read_text(encoding="utf-8"))) if n.split(".")[-1].startswith("test_")]
        assert [n for n, d in tests if not ast.get_docstring(d)] == [], path.relative_to(request.config.rootpath)
