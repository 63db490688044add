"""Faults where files are written: a step that fails, or at which the program is killed.

A step is a call that changes the disk: a file opened for writing, a part of its words, its name,
its mode, a folder. `steps_of` counts those of an action. `killed_at` does the action in a child
forked from here that ends without a word before, in the middle of, or after one of them.
"""

from __future__ import annotations

import builtins
import io
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from planner.folder import FILES

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


def state_of(folder: Path) -> dict[str, bytes]:
    """The files of a piece."""
    found = {}
    for name in FILES:
        with suppress(FileNotFoundError):
            found[name] = (folder / name).read_bytes()
    return found


def copied(folder: Path, to: Path) -> Path:
    """A copy of a piece with its history, in place of what is there."""
    shutil.rmtree(to, ignore_errors=True)
    return Path(shutil.copytree(folder, to))
