"""Which rows each line of a text is for: numbers, ranges, "next row", "all WS rows", repeats."""

from __future__ import annotations

from dataclasses import dataclass

from planner.charts.questions import listed
from planner.charts.written_asks import MORE, RowRemarks
from planner.charts.written_like import Body, body_of
from planner.charts.written_lines import LIKE_ROW, RowLine, RowsAgain, Script
from planner.charts.written_titles import Title
from planner.charts.written_words import MOST_OF_A_LINE
from planner.errors import PlanError
from planner.guards import MOST_ROWS, check_amount
from planner.piece import Construction
from planner.units import counted


@dataclass(frozen=True)
class WrittenRow:
    """What is written of one row.

    `entry`: its place among what the text writes. `several`: it is written for other rows too.
    """

    body: Body
    title: Title
    line: int
    entry: int
    several: bool = False


Rows = dict[int, WrittenRow]  # by chart row from 0


def rows_of(script: Script, how: Construction, remarks: RowRemarks) -> Rows:
    """The rows of a text by number. Raises PlanError for a gap or a row given twice."""
    rows: Rows = {}
    kinds: list[tuple[str, WrittenRow]] = []
    for place, entry in enumerate(script.entries):
        if isinstance(entry, RowsAgain):
            _repeat(entry, rows, script, place, remarks)
            continue
        written = _written(entry, place)
        if entry.title.also:
            kinds.append((entry.title.also, written))
        _number(entry, written, rows, how)
    if not rows:
        raise _no_rows(script)
    _add_kinds(kinds, rows, script, how, remarks)
    _check_complete(rows)
    return rows


def _no_rows(script: Script) -> PlanError:
    if not script.left_out:
        return PlanError(
            'There are no written rows. Write one row a line, like "Row 1 (RS): 32 A".'
        )
    line, words = script.left_out[0]
    return PlanError(
        f'Line {line}, "{words[:MOST_OF_A_LINE]}", is no written row, and no other line is one. '
        f"{LIKE_ROW}"
    )


def _written(entry: RowLine, place: int) -> WrittenRow:
    title = entry.title
    if not any(words for _, words in entry.pieces):
        raise PlanError(
            f"Line {entry.line} begins a row, but no stitches follow. Write them behind it, like "
            '"Row 5 (RS): 10 A, 3 B, 19 A".'
        )
    first = title.rows[0] if title.rows else (1, 1)
    several = len(title.rows) > 1 or first[0] < first[1] or title.following > 1
    several = several or bool(title.also)
    return WrittenRow(body_of(entry.pieces), title, entry.line, place, several)


def _number(entry: RowLine, written: WrittenRow, rows: Rows, how: Construction) -> None:
    """Put a row in its places."""
    title, line = entry.title, entry.line
    stretches = title.rows
    if title.following:
        last = max(rows, default=-1) + 1
        stretches = ((last + 1, last + title.following),)
    for first, last in stretches:
        check_amount(last, f"Line {line}", most=MOST_ROWS, what="rows")
        for row in range(first - 1, last):
            if row in rows:
                raise PlanError(
                    f"Line {line} writes row {row + 1} once more; it stands on line "
                    f"{rows[row].line} already. Correct its number, or put in one chart at a time."
                )
            _check_side(row, written, how)
            rows[row] = written


def _check_side(row: int, written: WrittenRow, how: Construction) -> None:
    """Refuse a row that is worked on another side than its line says."""
    side, line = written.title.side, written.line
    worked = how.side(row * how.rows_per_chart_row)
    # A line for several rows may be worked from both sides, whatever it says.
    if side and not written.several and side != worked:
        raise PlanError(
            f"Line {line} calls row {row + 1} a {side} row, but as the piece is worked it is "
            f"{worked}. Correct the line, or the first row of the construction."
        )


def _check_complete(rows: Rows) -> None:
    """Refuse rows with one missing below the last."""
    number = max(rows) + 1
    missing = [str(row + 1) for row in range(number) if row not in rows]
    if missing:
        are = "are" if len(missing) > 1 else "is"
        name = "Rows" if len(missing) > 1 else "Row"
        raise PlanError(
            f"{name} {listed(missing)} {are} missing; rows 1 to {number} are needed. Write each on "
            "a line of its own."
        )


def _is_of_kind(row: int, kind: str, how: Construction) -> bool:
    if kind in ("even", "odd"):
        return (row % 2 == 1) == (kind == "even")
    return how.side(row * how.rows_per_chart_row) == kind


def _add_kinds(
    kinds: list[tuple[str, WrittenRow]],
    rows: Rows,
    script: Script,
    how: Construction,
    remarks: RowRemarks,
) -> None:
    """Give "all WS rows" the rows that nothing else is said of."""
    if not kinds:
        return
    last = max(rows)
    if script.size:
        last = max(last, script.size[1] - 1)
    elif any(_is_of_kind(last + 1, kind, how) for kind, _ in kinds):
        line = kinds[0][1].line
        question = (
            f'Line {line} is for "all" such rows, and the last row with a number is {last + 1}. '
            f"Is row {last + 2} worked too?"
        )
        if remarks.settle("last_row", question, "worked") == "worked":
            last += 1
    check_amount(last + 1, "The text of written rows", most=MOST_ROWS, what="rows")
    for kind, written in kinds:
        for row in range(last + 1):
            if row not in rows and _is_of_kind(row, kind, how):
                rows[row] = written


def _repeat(
    again: RowsAgain,
    rows: Rows,
    script: Script,
    place: int,
    remarks: RowRemarks,
) -> None:
    """Add rows that are repeated after the last one."""
    end = max(rows, default=-1)
    first, last = again.first - 1, again.last - 1
    if again.back:
        first, last = end - again.back + 1, end
    for row in range(first, last + 1):
        if row not in rows:
            raise PlanError(
                f"Line {again.line} repeats row {row + 1}, which is not written before it. Write "
                "the rows first."
            )
    length = last - first + 1
    if first < 0 or length < 1:
        raise PlanError(
            f"Line {again.line} repeats rows that are not written before it. Write the rows first."
        )
    if again.until is not None:
        left = again.until - end - 1
        if left <= 0 or left % length:
            raise PlanError(
                f"Line {again.line} repeats {counted(length, 'row')} until there are "
                f"{again.until}, but {end + 1} are written before it. Count them again."
            )
        copies = left // length
    else:
        copies = _copies(again, length, end, script, place, remarks)
    check_amount(end + 1 + copies * length, f"Line {again.line}", most=MOST_ROWS, what="rows")
    for copy in range(copies):
        for row in range(length):
            rows[end + 1 + copy * length + row] = rows[first + row]


def _copies(
    again: RowsAgain,
    length: int,
    end: int,
    script: Script,
    place: int,
    remarks: RowRemarks,
) -> int:
    """How many times rows come once more; where it is not clear, the next number may tell."""
    times = again.times or 0
    check_amount(times, f"Line {again.line}", most=MOST_ROWS, what="repeats")
    if again.more is not None:
        return times if again.more else times - 1
    wanted = None
    for entry in script.entries[place + 1 :]:
        if isinstance(entry, RowLine) and entry.title.rows:
            wanted = entry.title.rows[0][0] - 1
            break
    else:
        if script.size and place == len(script.entries) - 1:
            wanted = script.size[1]
    for copies, words in ((times, MORE), (times - 1, "in all")):
        if wanted == end + 1 + copies * length:
            remarks.note(
                f"Line {again.line} repeats rows {times} times: counted as {times} {words}, as the "
                "next number of a row says."
            )
            return copies
    question = (
        f"Line {again.line} repeats rows {times} times. Is that {times} more, or {times} in all?"
    )
    return times if remarks.settle("repeats", question, MORE) == MORE else times - 1
