"""Benchmarks of `diagnose`: ratios and times, printed as one table. Nothing fails for being slow.

    python tests/bench/run.py
    python tests/bench/run.py --only chains,inference --quick

The exit status is 1 only when two methods that must agree do not.
"""

from __future__ import annotations

import argparse
import importlib
import os
import platform
import sys
import time
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[0] = str(ROOT / "tests")  # in place of this folder, whose modules are `bench.*`
sys.path.insert(0, str(ROOT))

from bench.clock import cpu_ms  # noqa: E402
from bench.lines import Setting, WrongResultError, head, text_of  # noqa: E402

PARTS = ("startup", "warm", "batch", "growth", "chains", "inference")


def main() -> int:
    """Run the parts asked for and print their lines as they come."""
    asked = _parser().parse_args()
    setting = Setting(asked.quick, asked.rules, asked.cases, asked.seed)
    print(_machine())
    print(head())
    wrong = 0
    for part in asked.only:
        start = time.perf_counter()
        try:
            for line in importlib.import_module(f"bench.{part}").run(setting):
                print(text_of(part, line), flush=True)
        except WrongResultError as error:
            print(f"{part}: WRONG: {error}", flush=True)
            wrong = 1
        print(f"{part:<9} took {time.perf_counter() - start:.0f} s", flush=True)
    return wrong


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", type=_parts, default=PARTS, help=f"parts to run, of {','.join(PARTS)}")
    parser.add_argument("--quick", action="store_true", help="fewer and smaller: a minute or so")
    parser.add_argument("--rules", type=Path, help="a folder of rules instead of the shipped one")
    parser.add_argument("--cases", type=Path, help="a folder of cases instead of the shipped one")
    parser.add_argument("--seed", type=int, default=1, help="seed of everything random")
    return parser


def _parts(text: str) -> Iterable[str]:
    parts = [part.strip() for part in text.split(",")]
    unknown = [part for part in parts if part not in PARTS]
    if unknown:
        raise argparse.ArgumentTypeError(f"no part '{unknown[0]}'; there are {', '.join(PARTS)}")
    return parts


def _machine() -> str:
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    yard = min(cpu_ms(_yardstick) for _ in range(5))
    return f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} cores{load}; a fixed loop takes {yard:.1f} ms"


def _yardstick() -> int:
    """Always the same work, to compare the speed of machines, or of one machine at two times."""
    return sum(len(str(i)) for i in range(100_000))


if __name__ == "__main__":
    sys.exit(main())
