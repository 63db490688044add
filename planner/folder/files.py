"""Plain files, read forgivingly and written so that nothing is lost: the old file or the new one, never half of one."""

from __future__ import annotations

import csv
import io
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from planner.errors import PlanError


def read_text(path: Path) -> str:
    """The text of a file in UTF-8 (with or without a byte-order mark) or, as some spreadsheets write, UTF-16."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise PlanError(
            f"There is no file {path.name} in {path.parent}. Is the folder right?"
        ) from None
    except OSError as error:
        raise PlanError(
            f"{path.name} cannot be read ({error.strerror}). Close it in other programs and try again."
        ) from None
    return decoded(raw, path.name)


def decoded(raw: bytes, name: str) -> str:
    """The text in the bytes of the file `name`."""
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise PlanError(
            f"{name} line {line} is not in UTF-8. In the spreadsheet, save it once more as CSV UTF-8."
        ) from None


def read_grid(path: Path) -> dict[int, list[str]]:
    """The cells of a CSV file by line number; comma, semicolon or tab between cells; empty lines left out."""
    text = read_text(path)
    first = next((line for line in text.splitlines() if line.strip()), "")
    return grid_of(text, path.name, max(",;\t", key=first.count))


def grid_of(text: str, name: str, delimiter: str) -> dict[int, list[str]]:
    """The cells of CSV text, from the file `name`, by line number; empty lines left out."""
    if "\0" in text:
        raise PlanError(f"{name} is not a text file. Save it from the spreadsheet as CSV UTF-8.")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        rows = {}
        for row in reader:
            rows[reader.line_num] = [cell.strip() for cell in row]
    except csv.Error as error:
        raise PlanError(
            f"{name} cannot be read as CSV: {error}. Look for a quotation mark that is never closed."
        ) from None
    return {line: row for line, row in rows.items() if any(row)}


def read_table(
    path: Path, columns: tuple[str, ...], needed: tuple[str, ...] = ()
) -> dict[int, dict[str, str]]:
    """The rows of a CSV file with a header by line number, as text; `columns` are those it may have, `needed` those it must."""
    grid = read_grid(path)
    if not grid:
        return {}
    header = [name.lower().replace(" ", "_") for name in grid.pop(next(iter(grid)))]
    for name in needed:
        if name not in header:
            raise PlanError(
                f'{path.name} has no column "{name}". Its first line must name the columns: {", ".join(columns)}.'
            )
    for name in header:
        if name and name not in columns:
            raise PlanError(
                f'{path.name} has a column "{name}" that means nothing here. Its columns are: {", ".join(columns)}.'
            )
        if name and header.count(name) > 1:
            raise PlanError(
                f'{path.name} has the column "{name}" twice. Give each column a name of its own.'
            )
    rows = {}
    for number, row in grid.items():
        if any(row[len(header) :]):
            raise PlanError(
                f"{path.name} line {number} has more cells than the header. Quote a text that holds a comma."
            )
        rows[number] = dict(zip(header, row + [""] * (len(header) - len(row)), strict=False))
    return rows


def csv_line(cells) -> str:
    """One line of CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue()


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock that every writer of this file takes."""
    if not path.parent.is_dir():
        raise PlanError(f"There is no folder {path.parent} to keep {path.name} in.")
    lock = FileLock(path.with_name(f".{path.name}.lock"), timeout=10)
    try:
        lock.acquire()
    except Timeout:
        raise PlanError(
            f"{path.name} is being written by another notebook or program. Wait a moment and try again."
        ) from None
    try:
        yield
    finally:
        lock.release()


def append_row(path: Path, columns: tuple[str, ...], row: dict):
    """Add one line to a CSV log; the others keep their words and their order. Call it with the file locked."""
    for left in path.parent.glob(f".{path.name}.*.part"):
        left.unlink(missing_ok=True)  # of a program that was killed while it wrote
    rows = read_table(path, columns).values() if path.exists() else []
    # What would keep the file from being read again is not written.
    new = {
        name: "" if cell is None else re.sub(r"\r\n?", "\n", str(cell)).replace("\0", "")
        for name, cell in row.items()
    }
    lines = [columns, *([row.get(name, "") for name in columns] for row in [*rows, new])]
    replace_text(path, "".join(map(csv_line, lines)))


def replace_text(path: Path, text: str):
    """Write a text file whole. Call it with the file locked."""
    replace_bytes(path, text.encode())


def replace_bytes(path: Path, data: bytes):
    """Write the file whole: a sibling file first, flushed to disk, then put in its place. Call it with the file locked."""
    part = path.with_name(f".{path.name}.{os.getpid()}.{time.monotonic_ns()}.part")
    try:
        with open(part, "xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        for wait in (
            0.1,
            0.3,
            1.0,
            None,
        ):  # on Windows a spreadsheet may hold the file for a moment
            try:
                os.replace(part, path)
                return
            except PermissionError:
                if wait is None:
                    raise PlanError(
                        f"{path.name} cannot be written. Close it in your spreadsheet and try again."
                    ) from None
                time.sleep(wait)
    except OSError as error:
        raise PlanError(
            f"{path.name} cannot be written ({error.strerror}); it is as it was. Is the disk full?"
        ) from None
    finally:
        part.unlink(missing_ok=True)
