"""Transactions: of a change of several files all is there or nothing, wherever it is cut off.

New contents are staged beside the files, and a manifest names them. The change is made at the
moment when the manifest gets its name; putting the files in place can then be finished by anybody.
Whoever takes the folder's lock next, readers too, finishes what has a manifest and throws away what
has none.
"""

from __future__ import annotations

import errno
import json
import os
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from planner.errors import PlanError

LOCK = ".lock"
PENDING = ".pending"
MANIFEST = "manifest.json"
LOCK_WAIT_S = 10
# On Windows a spreadsheet may hold a file for a moment: so long until each next try.
WAITS_S = (0.1, 0.3, 1.0)


class _FolderLock:
    """The lock of one folder, against other threads and against other programs."""

    def __init__(self, path: Path):
        self._threads = threading.RLock()
        # The threads take turns already, so it is one lock for all of them.
        self._programs = FileLock(path, timeout=LOCK_WAIT_S, thread_local=False)

    def acquire(self) -> None:
        """Take the lock; who holds it may take it again. Raises Timeout."""
        if not self._threads.acquire(timeout=LOCK_WAIT_S):
            raise Timeout(self._programs.lock_file)
        try:
            self._programs.acquire()
        except BaseException:
            self._threads.release()
            raise

    def release(self) -> None:
        """Give the lock back, as often as it was taken."""
        self._programs.release()
        self._threads.release()


_locks: dict[Path, _FolderLock] = {}
_making = threading.Lock()


@contextmanager
def locked_folder(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; what a killed program left half-done is finished or thrown away.

    Raises PlanError if somebody else holds it for long. A folder that cannot be written, on a
    read-only disk, is read without a lock: nobody can change it.
    """
    # A mistyped name must not become a new folder.
    if not folder.is_dir():
        raise PlanError(f"There is no folder {folder}. Name the folder that holds chart.csv.")
    path = folder.resolve() / LOCK
    with _making:
        lock = _locks.setdefault(path, _FolderLock(path))
    try:
        lock.acquire()
    except Timeout:
        raise PlanError(
            f"The folder {folder.name} is in use by another notebook or program. Wait a moment and "
            "try again."
        ) from None
    except OSError as error:
        if error.errno not in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise PlanError(cannot_write(folder.name, error)) from None
        yield
        return
    try:
        _finish(folder)
        yield
    finally:
        lock.release()


def cannot_write(name: str, error: OSError) -> str:
    """Why a file cannot be written, in words, and what to do."""
    reasons = {
        errno.ENOSPC: "the disk is full. Make room and try again",
        errno.EDQUOT: "the disk is full. Make room and try again",
        errno.EROFS: "the folder is read-only. Copy the piece to a place where you may write",
        errno.EACCES: "you may not write there, or another program holds it. Close it there, or "
        "copy the piece to a place of your own",
        errno.EPERM: "you may not write there. Copy the piece to a place of your own",
        errno.ENAMETOOLONG: "its name is too long. Choose a shorter one",
    }
    reason = reasons.get(error.errno or 0, error.strerror or "the system refused it")
    return f"Could not write {name}: {reason}. Nothing is changed."


def write_together(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Write these files of the folder, all of them or none. Call it with the folder locked.

    Names may lie in a folder below. A link is followed: the file that it names is written. The mode
    of a file stays as it was. Raises PlanError, with nothing changed, where that is not possible.
    """
    if not contents:
        return
    pending, name = folder / PENDING, folder.name
    staged: list[Path] = []
    try:
        pending.mkdir(exist_ok=True)
        for name, data in contents.items():
            part, target = _places(folder, name)
            target.parent.mkdir(exist_ok=True)
            staged.append(part)
            _write_new(part, data, target)
        name = MANIFEST
        _commit(pending, list(contents))
    except OSError as error:
        for part in staged:
            part.unlink(missing_ok=True)
        raise PlanError(cannot_write(name, error)) from None
    # From here on it is made, whatever happens.
    _finish(folder)


def _places(folder: Path, name: str) -> tuple[Path, Path]:
    """Where the new content of a file is staged, and the file that it will be."""
    # A manifest may come with a folder from anywhere: it names files of the folder, no others.
    if Path(name).is_absolute() or ".." in Path(name).parts:
        raise PlanError(f"{folder.name} has a {PENDING}/{MANIFEST} that names {name}. Delete it.")
    target = (folder / name).resolve()
    within = target.is_relative_to(folder.resolve())
    # A file can take another's place only on the same disk: a link's file is staged beside it.
    beside = folder / PENDING if within else target.parent
    return beside / f".{name.replace('/', '-')}.part", target


def _write_new(part: Path, data: bytes, target: Path) -> None:
    """Write a file that takes the place of another, down to the disk."""
    part.unlink(missing_ok=True)
    # Opened with "x", so that nobody else's is ever written to.
    with open(part, "xb") as file:
        try:
            if target.exists():
                os.chmod(part, target.stat().st_mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            part.unlink(missing_ok=True)
            raise


def _commit(pending: Path, names: list[str]) -> None:
    """Write the manifest and give it its name: with that the change is made."""
    unnamed = pending / f"{MANIFEST}.part"
    unnamed.unlink(missing_ok=True)
    with open(unnamed, "x", encoding="utf-8") as file:
        json.dump(names, file)
        file.flush()
        os.fsync(file.fileno())
    os.replace(unnamed, pending / MANIFEST)
    sync_folder(pending)


def _finish(folder: Path) -> None:
    """Put in place what has a manifest, and throw away what has none. The folder is locked."""
    pending = folder / PENDING
    if not pending.is_dir():
        return
    manifest = pending / MANIFEST
    try:
        if manifest.exists():
            for name in json.loads(manifest.read_text(encoding="utf-8")):
                part, target = _places(folder, name)
                # What was put in place before the cut is not there any more.
                if part.exists():
                    _put_in_place(part, target)
                    sync_folder(target.parent)
            manifest.unlink()
            sync_folder(pending)
        for left in pending.iterdir():
            left.unlink(missing_ok=True)
        pending.rmdir()
    except OSError as error:
        # The manifest stays: whoever comes next tries again.
        raise PlanError(
            f"A change of {folder.name} is made but not yet in place ({error.strerror}). Close its "
            "files in other programs and try again; nothing is lost."
        ) from None


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can."""
    # Windows keeps names by itself and opens no folder.
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _put_in_place(part: Path, target: Path) -> None:
    """Give the finished file its name; the system does it at once or not at all."""
    for wait in WAITS_S:
        try:
            os.replace(part, target)
            return
        except PermissionError:
            time.sleep(wait)
    os.replace(part, target)
