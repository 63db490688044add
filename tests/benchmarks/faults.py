"""Whether anything is lost: kills, failing and full disks, writers at once, files cut, odd inputs.

Run it as `python tests/benchmarks/faults.py [PART …]`. The target: nothing is ever lost, mixed, or
refused without a word.

Every writer of the planner, and every form, is killed before, in the middle of and after each step
that changes the disk, in a child forked from here; then the piece is opened again. It must be the
old piece or the new one, and the new one if it was acknowledged.
"""

from __future__ import annotations

import errno
import importlib
import os
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr
from dataclasses import replace
from io import StringIO
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

sys.path.insert(0, str(Path(__file__).parents[2]))

import planner.workbook.desk as desks
from planner.folder import keep, open_project, see, with_measurement
from planner.workbook.troubles import open_anyway
from tests.conftest import DEMO, NOT_ITS_OWN
from tests.helpers.faults import Figures, Trial, copied, killed_at, state_of
from tests.helpers.folders import leftovers, write
from tests.helpers.two_views import TwoDesks, TwoViews
from tests.helpers.writers import (
    FORMS,
    SCRIPTS,
    all_at_once,
    base_piece,
    leaving_the_demo,
    measured,
)

# The report writes many files that are not the piece's own, each in a few steps.
EVERY = {"the report": 7}
WRITERS, LINES = 4, 100
EXAMPLES, STEPS = 200, 30
INPUTS = 200_000
Row = tuple[str, Figures]


def trials(place: Path) -> Iterator[Trial]:
    """Everything that writes, in a piece of its own."""
    base = base_piece(place / "base" / "piece")
    for name, prepare in SCRIPTS.items():
        yield Trial(base, prepare, name)
    for name, prepare in FORMS.items():
        yield Trial(base, prepare, f"form: {name}")


def kills(place: Path) -> Iterator[Row]:
    """Each writer killed at each step."""
    for trial in trials(place):
        yield trial.name, trial.killed(every=EVERY.get(trial.name, 1))
    data = place / "demo" / "data"
    shutil.copytree(DEMO, data / DEMO.name, ignore=shutil.ignore_patterns(*NOT_ITS_OWN))
    demo = state_of(data)
    copy = {f"{desks.COPY}/{name}": words for name, words in state_of(data / DEMO.name).items()}
    # The copy is made before it is changed.
    trial = Trial(data, leaving_the_demo, "form: the demo left", between=(demo | copy,))
    yield trial.name, trial.killed()


def finishing(place: Path) -> Iterator[Row]:
    """A change that is made but not in place, finished by a reader that is killed in its turn."""
    base = base_piece(place / "base" / "piece")
    figures, change = Figures(), all_at_once()
    for number in range(0, 130, 3):
        folder = copied(base, place / "piece")
        seen = see(folder)
        killed_at(number, lambda seen=seen: _kept(seen, change))
        half = copied(folder, place / "half")
        see(folder)
        after = state_of(folder)
        for step in range(0, 60, 7):
            folder = copied(half, place / "piece")
            killed_at(step, lambda folder=folder: see(folder))
            figures.tried += 1
            see(folder)
            if state_of(folder) != after or leftovers(folder):
                figures.wrong.append(f"cut off at {number}, then at {step}")
            elif after == state_of(base):
                figures.old += 1
            else:
                figures.new += 1
    yield "a change finished by others", figures


def _kept(seen, change):
    return keep(seen.project, change)


def failing(place: Path) -> Iterator[Row]:
    """Each writer on a disk that fails at each so-manieth step: full, broken, not permitted."""
    for trial in trials(place):
        figures = Figures()
        for error in (errno.ENOSPC, errno.EIO, errno.EROFS):
            for once in (True, False):
                figures.add(trial.failing(error, once=once, every=5 * EVERY.get(trial.name, 1)))
        yield trial.name, figures


def at_once(place: Path) -> Iterator[Row]:
    """Writers at once that are killed at any moment and begin again; all that was acknowledged."""
    folder = write(place)
    told, rng = place / "told", random.Random(12)
    told.mkdir()
    running: dict[int, tuple[str, float]] = {}
    figures, started = Figures(), 0
    while figures.tried < WRITERS * LINES or running:
        while len(running) < WRITERS and figures.tried + len(running) < WRITERS * LINES:
            name = f"w{started}"
            started += 1
            running[_writing(folder, told / name, name)] = name, time.time() + rng.uniform(0, 0.6)
        for child, (_, until) in list(running.items()):
            if time.time() >= until:
                os.kill(child, 9)
                os.waitpid(child, 0)
                figures.tried += 1
                del running[child]
        time.sleep(0.01)
    notes = [line.note for line in open_project(folder).measurements]
    acknowledged = {line for path in told.iterdir() for line in path.read_text().split()}
    lost = acknowledged - set(notes)
    figures.new = len(notes)
    figures.wrong += [f"lost: {note}" for note in sorted(lost)]
    figures.wrong += [f"twice: {note}" for note in sorted({n for n in notes if notes.count(n) > 1})]
    yield f"{WRITERS} at once, {len(acknowledged)} lines acknowledged", figures


def _writing(folder: Path, told: Path, name: str) -> int:
    """A child that logs line after line, and tells each that was acknowledged."""
    child = os.fork()
    if child:
        return child
    try:
        number = 0
        while True:
            note = f"{name}.{number}"

            def change(held, note=note):
                log = with_measurement(held.measurements, lambda its: measured(its, note=note))
                return replace(held, measurements=log)

            keep(open_project(folder), change)
            with told.open("a") as file:
                file.write(f"{note}\n")
            number += 1
    finally:
        os._exit(1)


def in_turn(place: Path) -> Iterator[Row]:
    """Two views, and two desks, on one piece against a plain model (hypothesis)."""
    few = {TwoViews: EXAMPLES, TwoDesks: EXAMPLES // 4}
    for machine, examples in few.items():
        figures = Figures(tried=examples * STEPS)
        try:
            run_state_machine_as_test(
                machine,
                settings=settings(
                    max_examples=examples,
                    stateful_step_count=STEPS,
                    deadline=None,
                    database=None,
                    suppress_health_check=list(HealthCheck),
                ),
            )
        except AssertionError as error:
            figures.wrong.append("\n".join([repr(error), *getattr(error, "__notes__", ())]))
        yield f"steps of {machine.__name__}", figures


def cut(place: Path) -> Iterator[Row]:
    """Each file cut at each byte: the piece opens, and its ways out lead to one that is whole."""
    base = base_piece(place / "base" / "piece")
    keep(open_project(base), all_at_once())
    for name, data in state_of(base).items():
        figures = Figures()
        for length in range(len(data)):
            folder = copied(base, place / "piece")
            (folder / name).write_bytes(data[:length])
            figures.tried += 1
            try:
                tries = _mended(folder)
            except Exception as error:
                figures.wrong.append(f"{name} cut at {length}: {error!r}")
                continue
            figures.old += not tries
            figures.new += bool(tries)
        yield f"{name} cut", figures


def _mended(folder: Path) -> int:
    """How many ways out were taken until the piece opens whole."""
    _, _, troubles = open_anyway(folder)
    tries = 0
    while troubles:
        tries += 1
        if tries > 5:
            raise RuntimeError(f"no way out leads on: {troubles[0].what}")
        troubles[0].ways[0].take()
        _, _, troubles = open_anyway(folder)
    open_project(folder)
    return tries


def inputs(place: Path) -> Iterator[Row]:
    """Odd inputs to every reader, where that benchmark is there."""
    try:
        bench = importlib.import_module("tests.benchmarks.bench_inputs")
    except ModuleNotFoundError:
        return
    sys.argv = ["bench_inputs.py", "--inputs", str(INPUTS)]
    figures = Figures(tried=INPUTS)
    if bench.main():
        figures.wrong.append("odd inputs: see above")
    yield "odd inputs", figures


PARTS: dict[str, Callable[[Path], Iterator[Row]]] = {
    "kills": kills,
    "finishing": finishing,
    "failing": failing,
    "at_once": at_once,
    "in_turn": in_turn,
    "cut": cut,
    "inputs": inputs,
}


def main(asked: list[str]) -> int:
    """Print a table of what was tried, part by part; 1 if anything was wrong."""
    wrong = []
    for part in asked or PARTS:
        print(f"\n{part}: {PARTS[part].__doc__}")
        print(f"{'':44}{'tried':>8}{'old':>8}{'new':>8}{'wrong':>8}")
        total = Figures()
        with tempfile.TemporaryDirectory() as place, redirect_stderr(StringIO()):
            for name, figures in PARTS[part](Path(place)):
                _say(name, figures)
                total.add(figures)
        _say("in all", total)
        wrong += total.wrong
    for words in wrong:
        print(words)
    print(f"\n{len(wrong)} lost, mixed or not said.")
    return int(bool(wrong))


def _say(name: str, figures: Figures) -> None:
    numbers = (figures.tried, figures.old, figures.new, len(figures.wrong))
    print(f"{name:44}" + "".join(f"{number:8}" for number in numbers), flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
