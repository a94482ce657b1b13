"""How time and memory are taken, and how a figure is printed beside its aim."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
SAMPLE = ROOT / "sample_kits" / "two-lenses.toml"

_CACHE = tempfile.TemporaryDirectory()
"""Compiled modules, kept as an installed program's are, and gone when the measuring ends."""
_ENVIRONMENT = {
    **{k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"},
    "PYTHONPYCACHEPREFIX": _CACHE.name,
    "OPENBLAS_NUM_THREADS": "1",
}
_PEAK = (
    "import resource, subprocess, sys; "
    "subprocess.run([sys.executable, *sys.argv[1:]], stdout=subprocess.DEVNULL, check=True); "
    "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
)


def seconds(run: Callable[[], object]) -> float:
    """Return how long a run takes."""
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def least(run: Callable[[], object], times: int) -> float:
    """Return the shortest of several runs, in seconds."""
    return min(seconds(run) for _ in range(times))


def process(*arguments: str) -> Callable[[], str]:
    """Return a run of a fresh Python process, which returns what it prints.

    Exit status 1 is an answer of some commands, not a failure.
    """
    command = [sys.executable, *arguments]

    def run() -> str:
        done = subprocess.run(
            command, check=False, capture_output=True, cwd=ROOT, env=_ENVIRONMENT, text=True
        )
        if done.returncode > 1 or "Traceback" in done.stderr:
            raise RuntimeError(f"{command}: {done.stderr}")
        return done.stdout

    return run


def processor_seconds(run: Callable[[], object]) -> float:
    """Return how long processors work for the processes that a run starts and waits for."""
    import resource

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    run()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def work(run: Callable[[], object]) -> float:
    """Return how long the processor works for a run in this process, in seconds."""
    start = time.process_time()
    run()
    return time.process_time() - start


def ratio_in_turn(run: Callable[[], object], other: Callable[[], object], *, times: int) -> float:
    """Return the ratio of processors' time of two runs of processes, taken in turn.

    Each is the least of several after one that is not counted, so that neither a machine that
    slows down nor cold files favour one of them.
    """
    run(), other()
    taken = [(processor_seconds(run), processor_seconds(other)) for _ in range(times)]
    return min(one for one, _ in taken) / min(each for _, each in taken)


def process_peak_mb(*arguments: str) -> float:
    """Return the most memory a fresh Python process holds at one time, in MB."""
    peak = int(process("-c", _PEAK, *arguments)())
    return peak / (1e6 if sys.platform == "darwin" else 1e3)


def peak_bytes(run: Callable[[], object]) -> int:
    """Return the most memory that a run holds at one time."""
    tracemalloc.start()
    run()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def show(what: str, ratio: float, aim: str) -> None:
    """Print one line."""
    print(f"{what:<62} {ratio:10.2f}   aim {aim}", flush=True)
