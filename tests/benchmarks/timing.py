"""How long work takes, for the benchmarks: tests look at no clock."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any


def timed(what: str, work: Callable[[], Any]) -> Any:
    """What the work gives; prints its seconds on the wall's clock and of the processor."""
    wall, busy = time.perf_counter(), time.process_time()
    answer = work()
    wall_s, busy_s = time.perf_counter() - wall, time.process_time() - busy
    print(f"  {what}: {wall_s:.2f} s ({busy_s:.2f} s of the processor)")
    return answer


def best_of(times: int, work: Callable[[], Any]) -> tuple[float, Any]:
    """The shortest of several times in seconds, and what the work gives."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer
