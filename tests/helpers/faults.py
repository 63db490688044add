"""Faults where files are written: a step that fails, or at which the program is killed.

A step is a call that changes the disk: a file opened for writing, a part of its words, its name,
its mode, a folder. `steps_of` counts those of an action. `killed_at` does the action in a child
forked from here that ends without a word before, in the middle of, or after one of them.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import shutil
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from planner.errors import PlanError
from planner.folder import locked_folder, versions
from planner.folder.history import HISTORY, TROUBLE_LOG
from planner.folder.transaction import PENDING

# What is called for each step, by the name of its module.
CALLS = ("replace", "rename", "fsync", "unlink", "rmdir", "mkdir", "chmod", "open")
KILLED, DONE, REFUSED = 9, 0, 3

Fault = Callable[[], None]


class _Written:
    """A file whose every write is two steps: half of the words, and the rest."""

    def __init__(self, file: Any, step: Fault):
        self._file, self._step = file, step

    def write(self, words: Any) -> int:
        half = len(words) // 2
        self._file.write(words[:half])
        self._file.flush()
        self._step()
        return half + self._file.write(words[half:])

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __enter__(self) -> _Written:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()


@contextmanager
def stepping(step: Fault) -> Iterator[None]:
    """Call `step` before and after everything that changes the disk."""
    calls = {name: getattr(os, name) for name in CALLS}

    def around(call: Callable[..., Any]) -> Callable[..., Any]:
        def stepped(*arguments: Any, **names: Any) -> Any:
            step()
            result = call(*arguments, **names)
            step()
            return result

        return stepped

    real = builtins.open

    def opened(file: Any, mode: str = "r", *arguments: Any, **names: Any) -> Any:
        if not set(mode) & set("wxa+"):
            return real(file, mode, *arguments, **names)
        step()
        return _Written(real(file, mode, *arguments, **names), step)

    try:
        for name, call in calls.items():
            setattr(os, name, around(call))
        builtins.open = io.open = opened
        yield
    finally:
        for name, call in calls.items():
            setattr(os, name, call)
        builtins.open = io.open = real


def at_step(number: int, fault: Fault) -> Fault:
    """What to call at each step so that `fault` happens at this one, counted from 0."""
    count = 0

    def step() -> None:
        nonlocal count
        count += 1
        if count == number + 1:
            fault()

    return step


def steps_of(action: Callable[[], Any]) -> int:
    """How many steps an action has."""
    count = 0

    def step() -> None:
        nonlocal count
        count += 1

    with stepping(step):
        action()
    return count


def killed_at(number: int, action: Callable[[], Any]) -> int:
    """Do an action in a child that is killed at this step; KILLED, DONE or REFUSED."""
    with warnings.catch_warnings():
        # The child does nothing but this action, on one thread.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    # Nothing of the test's own may run in the child, whatever happens.
    try:
        with stepping(at_step(number, lambda: os._exit(KILLED))):
            action()
        os._exit(DONE)
    finally:
        os._exit(REFUSED)


def failing_at(
    number: int, action: Callable[[], Any], error: int, *, once: bool
) -> Exception | None:
    """Do an action while the disk fails at a step, only there or from then on; what it raises."""
    count = 0

    def step() -> None:
        nonlocal count
        count += 1
        if count == number + 1 or (count > number and not once):
            raise OSError(error, os.strerror(error))

    with stepping(step):
        try:
            action()
        except Exception as raised:
            return raised
    return None


@contextmanager
def no_writing_in(folder: Path, error: int) -> Iterator[None]:
    """The system refuses to open any file of the folder for writing, its lock too."""
    real = os.open

    def refusing(path: Any, flags: int, *arguments: Any, **names: Any) -> int:
        if flags & os.O_CREAT and str(path).startswith(str(folder)):
            raise OSError(error, os.strerror(error), str(path))
        return real(path, flags, *arguments, **names)

    (folder / ".lock").unlink(missing_ok=True)
    os.open = refusing
    try:
        yield
    finally:
        os.open = real


def state_of(folder: Path) -> dict[str, bytes]:
    """The files of a folder and of those below, without history, locks and what is unfinished."""
    found = {}
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        passing = any(part[0] == "." or part.endswith(".part") for part in parts)
        if path.is_file() and not passing and HISTORY not in parts and parts[-1] != TROUBLE_LOG:
            found["/".join(parts)] = path.read_bytes()
    return found


def copied(folder: Path, to: Path) -> Path:
    """A copy of a piece with its history, in place of what is there."""
    shutil.rmtree(to, ignore_errors=True)
    return Path(shutil.copytree(folder, to))


@dataclass
class Figures:
    """How often something was tried, where it ended, and what was wrong."""

    tried: int = 0
    old: int = 0
    new: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: Figures) -> None:
        """Add those of another run."""
        self.tried += other.tried
        self.old += other.old
        self.new += other.new
        self.wrong += other.wrong


@dataclass(frozen=True)
class Trial:
    """An action in copies of a piece: the piece before and after it, and how many steps it has.

    `prepare` makes the action for a copy. `between` are further states that it may be found in.
    """

    base: Path
    prepare: Callable[[Path], Callable[[], Any]]
    name: str = ""
    between: tuple[dict[str, bytes], ...] = ()

    def ready(self) -> tuple[Path, Callable[[], Any], dict[str, bytes]]:
        """A new copy, the action in it, and its files now."""
        folder = copied(self.base, self.base.with_name("copy") / self.base.name)
        action = self.prepare(folder)
        return folder, action, state_of(folder)

    def once(self) -> tuple[int, dict[str, bytes], int]:
        """The steps of the action, the files after it, and the versions then."""
        folder, action, before = self.ready()
        steps, after = steps_of(action), state_of(folder)
        assert after != before, f"{self.name} changes nothing"
        return steps, after, len(versions(folder))

    def killed(self, *, every: int = 1, first: int = 0) -> Figures:
        """Kill the action at each step, or at every so-manieth, and open the piece again."""
        steps, after, kept = self.once()
        figures = Figures()
        for number in range(first, steps + every, every):
            folder, action, before = self.ready()
            ended = killed_at(number, action)
            figures.tried += 1
            found = self._opened(folder)
            where = f"{self.name}, step {number} of {steps}"
            if ended == REFUSED:
                figures.wrong.append(f"{where}: refused")
            if found == after:
                figures.new += 1
                if len(versions(folder)) != kept:
                    figures.wrong.append(f"{where}: no version of what was there")
            elif ended != DONE and found in (before, *self.between):
                figures.old += 1
            else:
                changed = [name for name in after if found.get(name) != after[name]]
                figures.wrong.append(f"{where}: neither the old nor the new ({changed})")
        return figures

    def failing(self, error: int, *, once: bool, every: int = 1) -> Figures:
        """Let the disk fail at each step; afterwards it is well, and the action is done again."""
        steps, after, _ = self.once()
        figures = Figures()
        for number in range(0, steps, every):
            folder, action, before = self.ready()
            raised = failing_at(number, action, error, once=once)
            figures.tried += 1
            found = self._opened(folder)
            where = f"{self.name}, {errno.errorcode[error]} at step {number} of {steps}"
            if raised is not None and not isinstance(raised, PlanError):
                figures.wrong.append(f"{where}: {raised!r}")
            if found == after:
                figures.new += 1
            elif found in (before, *self.between):
                figures.old += 1
            else:
                figures.wrong.append(f"{where}: neither the old nor the new")
            if raised is None and found != after and not self._by_form():
                figures.wrong.append(f"{where}: nothing was said")
            if raised is not None and found == after and "is made" not in str(raised):
                figures.wrong.append(f"{where}: said to be refused ({raised})")
        return figures

    def _by_form(self) -> bool:
        # A form says what is wrong in its own message, the report prints it.
        return self.name.startswith(("form: ", "the report"))

    def _opened(self, folder: Path) -> dict[str, bytes]:
        """The files of the piece after it was opened, with nothing left half-done."""
        for place in (folder, *(path for path in folder.iterdir() if path.is_dir())):
            if (place / PENDING).exists():
                with locked_folder(place):
                    pass
        left = list(folder.rglob(f"{PENDING}*"))
        assert left == [], left
        return state_of(folder)
