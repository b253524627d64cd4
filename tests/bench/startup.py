"""Cold start: one `triage` command against a bare import of the packages it stands on, pairs alternated."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from statistics import median

from bench.casework import told_cases
from bench.lines import Line, Setting

from diagnose.chain import durable
from diagnose.errors import DiagnoseError
from diagnose.knowledge.load import load_rules
from diagnose.triage import assess

ROOT = Path(__file__).resolve().parents[2]


def run(setting: Setting) -> Iterator[Line]:
    """Lines with the compiled rules cached, and with nothing cached."""
    packages = ["pydantic", "rich.console", "rich.table", "numpy", "yaml", *(["durable.engine"] if durable.available() else [])]
    bare = [sys.executable, "-c", f"import {', '.join(packages)}"]
    with tempfile.TemporaryDirectory() as folder:
        case = _case_file(setting, Path(folder))
        rules = ["--rules", str(setting.rules)] if setting.rules else []
        triage = [sys.executable, "-m", "diagnose", "triage", *rules, str(case)]
        warm = Path(folder, "cache")
        _timed(triage, warm)
        yield _line("triage, rules cached", triage, bare, [warm] * setting.pick(5, 21))
        fresh = [Path(folder, f"cache{i}") for i in range(setting.pick(3, 9))]
        yield _line("triage, nothing cached", triage, bare, fresh)


def _case_file(setting: Setting, folder: Path) -> Path:
    """The shipped case (without any: an example of the book, written to a file) nearest to middling length that
    can be assessed."""
    book = load_rules(setting.rules)
    cases = sorted(told_cases(setting, book)[1], key=lambda c: (len(c.observations), c.title))
    for case in sorted(cases, key=lambda c: abs(len(c.observations) - len(cases[len(cases) // 2].observations))):
        with suppress(DiagnoseError):
            assess(case, book)
            path = folder / "case.yaml"
            path.write_text(case.model_dump_json(by_alias=True, exclude_defaults=True))  # JSON is YAML
            return path
    raise RuntimeError("no case could be assessed")


def _line(what: str, triage: Sequence[str], bare: Sequence[str], caches: Sequence[Path]) -> Line:
    pairs = [(_timed(triage, cache), _timed(bare, cache)) for cache in caches]
    ours, theirs = (median(p[i][0] for p in pairs) for i in (0, 1))
    busy = median(p[0][1] for p in pairs) / median(p[1][1] for p in pairs)
    return Line(what, f"{ours:.0f} ms", f"{theirs:.0f} ms", ours / theirs, "<= 3" if "nothing" not in what else "",
                f"{len(pairs)} pairs, against a bare import; by processor time the ratio is {busy:.2f}")


def _timed(command: Sequence[str], cache: Path) -> tuple[float, float]:
    """Wall and processor time [ms] of a command that must succeed."""
    env = {**os.environ, "DIAGNOSE_CACHE": str(cache), "PYTHONPATH": str(ROOT)}
    before, start = os.times(), time.perf_counter()
    done = subprocess.run(command, env=env, capture_output=True, text=True, cwd=ROOT, check=False)
    wall, after = time.perf_counter() - start, os.times()
    if done.returncode:
        raise RuntimeError(f"{' '.join(command[1:5])} failed: {done.stderr.strip()[-300:]}")
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return wall * 1e3, used * 1e3
