"""Plain files, read forgivingly.

Spreadsheets write a table in many ways: with commas, semicolons or tabs, with or without a
byte-order mark, in UTF-8 or UTF-16. All are read. How files are written is told in transaction.py.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from planner.errors import PlanError
from planner.guards import (
    MOST_BYTES,
    MOST_CELLS_OF_TEXT,
    MOST_LINES,
    MOST_NUMBER,
    check_amount,
)
from planner.units import exact

YES, NO = ("yes", "true", "y", "1"), ("no", "false", "n", "0")


def read_text(path: Path, *, most: int = MOST_BYTES) -> str:
    """The text of a file in UTF-8 or UTF-16, of at most so many bytes.

    Raises PlanError where it cannot be read.
    """
    try:
        with open(path, "rb") as file:
            size = os.fstat(file.fileno()).st_size
            check_amount(size, path.name, most=most)
            data = file.read(most)
    except FileNotFoundError:
        raise PlanError(
            f"There is no file {path.name} in {path.parent}. Is the folder right?"
        ) from None
    except OSError as error:
        raise PlanError(
            f"{path.name} cannot be read ({error.strerror}). Close it in other programs and try "
            "again."
        ) from None
    return decoded(data, path.name)


def decoded(data: bytes, name: str) -> str:
    """The text in the bytes of the file `name`: UTF-8, or UTF-16 if it says so."""
    # A byte-order mark is left out of the text in either.
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise PlanError(
            f"{name} line {line} is not in UTF-8. In the spreadsheet, save it once more as CSV "
            "UTF-8."
        ) from None


def read_grid(path: Path) -> dict[int, list[str]]:
    """The cells of a CSV file by line number; empty lines are left out.

    Commas, semicolons or tabs stand between cells.
    """
    text = read_text(path)
    # Some spreadsheets begin with empty lines.
    first = next((line for line in text.splitlines() if line.strip()), "")
    # The separator is the sign that the first line has most of.
    return grid_of(text, path.name, max(",;\t", key=first.count))


def grid_of(text: str, name: str, delimiter: str) -> dict[int, list[str]]:
    """The cells of CSV text, from the file `name`, by line number; empty lines are left out."""
    # What csv would stumble over without saying why: a workbook or a picture under a wrong name.
    if "\0" in text:
        raise PlanError(f"{name} is not a text file. Save it from the spreadsheet as CSV UTF-8.")
    lines = text.count("\n") + text.count("\r")
    check_amount(lines, name, most=MOST_LINES, what="lines")
    check_amount(lines + text.count(delimiter), name, most=MOST_CELLS_OF_TEXT, what="cells")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows = {}
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                # As an editor counts them: empty lines count, and a cell may hold several.
                rows[reader.line_num] = cells
    except csv.Error as error:
        raise PlanError(
            f"{name} cannot be read as CSV: {error}. Look for a quotation mark that is never "
            "closed."
        ) from None
    return rows


def read_table(
    path: Path, columns: tuple[str, ...], needed: tuple[str, ...] = ()
) -> dict[int, dict[str, str]]:
    """The rows of a CSV file with a header, as text, by line number.

    `columns` are those it may have, `needed` those it must. Their order is free.
    """
    grid = read_grid(path)
    if not grid:
        return {}
    first_line = next(iter(grid))
    # "Metres per ball", as a person would write it, is metres_per_ball.
    header = [name.lower().replace(" ", "_") for name in grid.pop(first_line)]
    _check_header(header, path.name, columns, needed)
    rows = {}
    for line, row in grid.items():
        if any(row[len(header) :]):
            raise PlanError(
                f"{path.name} line {line} has more cells than the header. Quote a text that holds "
                "a comma."
            )
        # Spreadsheets leave out empty cells at the end of a line.
        missing = len(header) - len(row)
        rows[line] = dict(zip(header, row + [""] * missing, strict=False))
    return rows


def _check_header(
    header: list[str], file: str, columns: tuple[str, ...], needed: tuple[str, ...]
) -> None:
    """Refuse a header that lacks a column, has one twice, or one that means nothing."""
    for name in needed:
        if name not in header:
            raise PlanError(
                f'{file} has no column "{name}". Its first line must name the columns: '
                f"{', '.join(columns)}."
            )
    for name in header:
        if not name:
            continue  # an empty column is a habit of spreadsheets
        if name not in columns:
            raise PlanError(
                f'{file} has a column "{name}" that means nothing here. Its columns are: '
                f"{', '.join(columns)}."
            )
        if header.count(name) > 1:
            raise PlanError(
                f'{file} has the column "{name}" twice. Give each column a name of its own.'
            )


def number_in(text: str, what: str) -> float | None:
    """The number in a cell, None in an empty one; `what` names the cell in the error."""
    if not text:
        return None
    number = exact(text, what)
    if abs(number) > MOST_NUMBER:
        raise PlanError(f"{what} is {text}, which is too large to be meant.")
    return float(number)


def yes_in(text: str, default: bool, what: str) -> bool:
    """Whether a cell says yes, `default` in an empty one; `what` names the cell in the error."""
    if not text:
        return default
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    raise PlanError(f'{what} is "{text}"; write yes or no.')


def csv_line(cells: Iterable[object]) -> str:
    """One line of CSV."""
    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow(cells)
    return line.getvalue()


def with_rows(path: Path, columns: tuple[str, ...], rows: Sequence[Mapping[str, object]]) -> bytes:
    """The content of a CSV log with these lines below the others, which keep their words."""
    added, header = lines_of(columns, rows), csv_line(columns)
    data = path.read_bytes() if path.is_file() else b""
    # As we wrote it: then its lines need not be read, however many they are.
    if data.startswith(header.encode()) and data.endswith(b"\n"):
        return data + added.encode()
    # Columns come in our order, whatever a spreadsheet made of it.
    old = read_table(path, columns).values() if data else ()
    lines = [csv_line(row.get(name, "") for name in columns) for row in old]
    return "".join([header, *lines, added]).encode()


def lines_of(columns: tuple[str, ...], rows: Sequence[Mapping[str, object]]) -> str:
    """The lines of a CSV log, without its header."""
    lines = [{name: _cell(value) for name, value in row.items()} for row in rows]
    return "".join(csv_line(row.get(name, "") for name in columns) for row in lines)


def _cell(value: object) -> str:
    """The text of a cell, without what would keep the file from being read again."""
    if value is None:
        return ""
    return re.sub(r"\r\n?", "\n", str(value)).replace("\0", "")
