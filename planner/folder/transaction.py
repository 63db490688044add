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
import shutil
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from filelock import FileLock, Timeout

from planner.errors import PlanError

LOCK = ".lock"
PENDING = ".pending"
MANIFEST = "manifest.json"
LOCK_WAIT_S = 10
# Where what is neither finished nor thrown away is set aside, in the piece's folder.
UNREADABLE = "history/unfinished"
# A folder that cannot be written, or not now; it can still be read.
NOT_TO_BE_WRITTEN = (errno.EROFS, errno.EACCES, errno.EPERM, errno.ENOSPC, errno.EDQUOT)
# Not every disk knows how to make the names in a folder durable.
NOT_KNOWN_THERE = (errno.EINVAL, errno.ENOTSUP, errno.EBADF)
# On Windows a spreadsheet may hold a file for a moment: so long until each next try.
WAITS_S = (0.1, 0.3, 1.0)


class _FolderLock:
    """The lock of one folder, against other threads and against other programs."""

    def __init__(self, path: Path):
        self._threads = threading.RLock()
        # The threads take turns already, so it is one lock for all of them.
        self._programs = FileLock(path, timeout=LOCK_WAIT_S, thread_local=False)
        # Why it could not be taken when that was tried last.
        self.refused: OSError | None = None

    def acquire(self) -> None:
        """Take the lock; who holds it may take it again. Raises Timeout."""
        if not self._threads.acquire(timeout=LOCK_WAIT_S):
            raise Timeout(self._programs.lock_file)
        try:
            self._programs.acquire()
            self.refused = None
        except BaseException as error:
            if isinstance(error, OSError):
                self.refused = error
            self._threads.release()
            raise

    def release(self) -> None:
        """Give the lock back, as often as it was taken."""
        self._programs.release()
        self._threads.release()


_locks: dict[Path, _FolderLock] = {}
_making = threading.Lock()
# What a program holds, one that it has forked does not.
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_locks.clear)


@contextmanager
def locked_folder(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; what a killed program left half-done is finished or thrown away.

    Raises PlanError if somebody else holds it for long. A folder that cannot be written, on a
    read-only disk, is read without a lock: nobody can change it.
    """
    # A mistyped name must not become a new folder.
    if not folder.is_dir():
        raise PlanError(f"There is no folder {folder}. Name the folder that holds chart.csv.")
    lock = _lock_of(folder)
    try:
        lock.acquire()
    except Timeout:
        raise PlanError(
            f"The folder {folder.name} is in use by another notebook or program. Wait a moment and "
            "try again."
        ) from None
    except OSError as error:
        if error.errno not in NOT_TO_BE_WRITTEN:
            raise PlanError(cannot_write(folder.name, error)) from None
        yield
        return
    try:
        _finish(folder)
        yield
    finally:
        lock.release()


def _lock_of(folder: Path) -> _FolderLock:
    path = folder.resolve() / LOCK
    with _making:
        return _locks.setdefault(path, _FolderLock(path))


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


def take_away(folder: Path, name: str, kept: Mapping[str, bytes]) -> None:
    """Take a file out of a folder once what is `kept` of it is written. Call it with a lock held.

    Raises PlanError, with nothing lost, where that is not possible.
    """
    write_together(folder, kept)
    try:
        (folder / name).unlink(missing_ok=True)
    except OSError as error:
        raise PlanError(cannot_write(name, error)) from None


def write_together(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Write these files of the folder, all of them or none. Call it with the folder locked.

    Names may lie in a folder below. A link is followed: the file that it names is written. The mode
    of a file stays as it was. Raises PlanError, with nothing changed, where that is not possible.
    """
    if not contents:
        return
    refused = _lock_of(folder).refused
    # Without the lock somebody else may be writing at this moment.
    if refused is not None:
        raise PlanError(cannot_write(folder.name, refused))
    pending, name = folder / PENDING, folder.name
    staged: list[Path] = []
    try:
        pending.mkdir(exist_ok=True)
        for name, data in contents.items():
            part, target = _places(folder, name)
            make_folder(target.parent)
            staged.append(part)
            _write_new(part, data, target)
        name = MANIFEST
        _commit(pending, list(contents))
    except (PlanError, OSError) as error:
        if not _take_back(pending, staged):
            raise PlanError(_not_in_place(folder, error)) from None
        if isinstance(error, PlanError):
            raise
        raise PlanError(cannot_write(name, error)) from None
    # From here on it is made, whatever happens.
    _finish(folder)


def try_to_read(
    contents: Mapping[str, bytes], readers: Mapping[str, Callable[[Path], Any]]
) -> None:
    """Read what is to be written, each file by its own reader, from a place of its own.

    Raises PlanError where it could not be read again.
    """
    with TemporaryDirectory() as place:
        for name, read in readers.items():
            if name in contents:
                path = Path(place) / name
                path.write_bytes(contents[name])
                read(path)


def _take_back(pending: Path, staged: list[Path]) -> bool:
    """Throw away a change that cannot be finished; whether it is not made after all."""
    try:
        # First, for without its parts it would stand for a change that is in place.
        (pending / MANIFEST).unlink(missing_ok=True)
    except OSError:
        return False
    # What cannot be deleted now goes the next time.
    with suppress(OSError):
        for part in staged:
            part.unlink(missing_ok=True)
    shutil.rmtree(pending, ignore_errors=True)
    return True


def _not_in_place(folder: Path, error: Exception) -> str:
    reason = getattr(error, "strerror", None) or error
    return (
        f"A change of {folder.name} is made but not yet in place ({reason}). Close its files in "
        "other programs and try again; nothing is lost."
    )


def make_folder(folder: Path) -> None:
    """Make a folder, if it is not there yet. Raises PlanError where that is not possible."""
    if folder.is_dir():
        return
    try:
        folder.mkdir()
        sync_folder(folder.parent)
    except OSError as error:
        raise PlanError(cannot_write(folder.name, error)) from None


def copy_piece(folder: Path, copy: Path) -> None:
    """Copy a piece's files, without its history, to a folder that is not there yet.

    If it is there, it stays as it is. Raises PlanError where the copy cannot be written.
    """
    # Under another name until it is whole.
    unfinished = copy.with_name(f"{copy.name}.part")
    ignored = shutil.ignore_patterns(".*", "plan", "out", "history", "trouble.log")
    with locked_folder(folder):
        if copy.exists():
            return
        shutil.rmtree(unfinished, ignore_errors=True)
        try:
            shutil.copytree(folder, unfinished, ignore=ignored)
            unfinished.rename(copy)
        except OSError as error:
            raise PlanError(cannot_write(copy.name, error)) from None


def _places(folder: Path, name: str) -> tuple[Path, Path]:
    """Where the new content of a file is staged, and the file that it will be.

    Raises ValueError for a name outside of the folder.
    """
    path = Path(name)
    # A manifest may come with a folder from anywhere: it names files of the folder, no others.
    if path.anchor or ".." in path.parts:
        raise ValueError(name)
    target = (folder / path).resolve()
    within = target.is_relative_to(folder.resolve())
    # A file can take another's place only on the same disk: a link's file is staged beside it.
    beside = folder / PENDING if within else target.parent
    return beside / f".{'-'.join(path.parts)}.part", target


def _write_new(part: Path, data: bytes, target: Path) -> None:
    """Write a file that takes the place of another, down to the disk."""
    # What could never be replaced must not be found out when the change is made already.
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, "it is a folder", str(target))
    part.unlink(missing_ok=True)
    # Opened with "x", so that nobody else's is ever written to.
    with open(part, "xb") as file:
        try:
            # Some disks keep no modes.
            with suppress(PermissionError):
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
    # Whoever made it, what it points to is not ours.
    if pending.is_symlink() or pending.is_file():
        with suppress(OSError):
            pending.unlink()
        return
    if not pending.is_dir():
        return
    manifest = pending / MANIFEST
    try:
        if manifest.is_file():
            places = [_places(folder, name) for name in json.loads(manifest.read_bytes())]
            for part, target in places:
                # What was put in place before the cut is not there any more.
                if part.exists():
                    _put_in_place(part, target)
                    sync_folder(target.parent)
            manifest.unlink()
            sync_folder(pending)
    except (ValueError, TypeError):
        _set_aside(folder, pending)
    except OSError as error:
        # The manifest stays: whoever comes next tries again.
        raise PlanError(_not_in_place(folder, error)) from None
    # What cannot be deleted now goes the next time.
    shutil.rmtree(pending, ignore_errors=True)


def _set_aside(folder: Path, pending: Path) -> None:
    """Keep what nobody can finish, out of the way, so that the folder can be opened."""
    number = 1
    while (aside := folder / f"{UNREADABLE}-{number}").exists():
        number += 1
    with suppress(OSError):
        aside.parent.mkdir(exist_ok=True)
        pending.rename(aside)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can."""
    # Windows keeps names by itself and opens no folder.
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in NOT_KNOWN_THERE:
            raise
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
