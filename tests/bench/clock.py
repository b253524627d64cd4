"""Times and memory. Work inside this process is timed in its own processor time, so that a busy machine
disturbs the figures less; whole commands are timed by the wall."""

from __future__ import annotations

import gc
import math
import resource
import time
from collections.abc import Callable, Sequence
from statistics import median


def cpu_ms(work: Callable[[], object]) -> float:
    """Processor time of one call [ms]."""
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1e3


def rounds(works: Sequence[Callable[[], object]], count: int) -> list[list[float]]:
    """Times [ms] of each work over `count` rounds, alternated: what slows the machine for a while slows all."""
    times: list[list[float]] = [[] for _ in works]
    for work in works:
        work()
    gc.collect()
    for _ in range(count):
        for kept, work in zip(times, works, strict=True):
            kept.append(cpu_ms(work))
    return times


def medians(works: Sequence[Callable[[], object]], count: int) -> list[float]:
    """Median time [ms] of each work over alternated rounds."""
    return [median(kept) for kept in rounds(works, count)]


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least this share of the values does not exceed."""
    return sorted(values)[max(0, math.ceil(share * len(values)) - 1)]


def resident_mb() -> float:
    """Resident memory of this process [MB]; the peak where the system does not tell the present."""
    try:
        with open("/proc/self/statm") as file:
            return int(file.read().split()[1]) * resource.getpagesize() / 1e6
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
