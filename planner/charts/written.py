"""Written rows: a chart as a pattern writes it, and such text read as a chart.

Rows are in working order, each in the direction of its construction: "Row 5 (RS): 10 A, 3 B, 19 A".
Garter has one line a ridge, as its first row is worked. What is understood is told by the styles in
tests/helpers/written_styles.py.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from planner.charts.questions import Question, listed
from planner.charts.written_asks import AS_WORKED, RowAnswers, RowRemarks
from planner.charts.written_cells import Cells, cells_of
from planner.charts.written_lines import Script, looks_written, script_of
from planner.charts.written_numbers import Rows, rows_of
from planner.charts.written_order import (
    Direction,
    as_told,
    ask_for_order,
    stated_order,
    working_order,
)
from planner.charts.written_phrases import Name
from planner.charts.written_ridges import ask_about_ridges, has_a_line_a_row, ridges_of
from planner.charts.written_words import MOST_OF_A_LINE, is_taken
from planner.charts.written_yarns import YarnsFound, names_in, refuse_others, twice_over, yarns_of
from planner.errors import PlanError
from planner.guards import MOST_LETTERS_OF_ROWS
from planner.piece import NO_STITCH, Chart, Construction
from planner.units import counted

NO_STITCH_WORDS = "no stitch"
SOURCE = "Written rows:"


@dataclass(frozen=True)
class RowsChart:
    """The chart that written rows describe.

    `yarns`: the name of each letter, as the text writes it; `notes` what was understood and what
    was left out, in words; `asks` what is in doubt, each settled by the argument of
    `read_written_rows` that it names.
    """

    chart: Chart
    yarns: Mapping[str, str]
    notes: tuple[str, ...]
    asks: tuple[Question, ...]


# Out


def write_rows(chart: Chart, how: Construction) -> str:
    """The chart in written rows, first row first, one line a row (garter: a ridge)."""
    lines = []
    # A chart gives its top row first, which is worked last.
    rows = reversed(chart.to_rows())
    for number, cells in enumerate(rows):
        in_order = cells[:: working_order(how, number)]
        runs = []
        for letter, same in groupby(in_order):
            count = len(list(same))
            runs.append(f"{count} {_name_of(letter)}")
        title = _row_title(how, number)
        lines.append(f"{title}: {', '.join(runs)}")
    return "\n".join(lines) + "\n"


def _name_of(letter: str) -> str:
    if letter == NO_STITCH:
        return NO_STITCH_WORDS
    # A yarn called St or WS would read as a word of the craft.
    return f'"{letter}"' if is_taken(letter) else letter


def _row_title(how: Construction, chart_row: int) -> str:
    if how.fabric == "garter":
        return f"Ridge {chart_row + 1}"
    # No ridges here, so a chart row is a worked row.
    name = how.row_name(chart_row)
    return name[0].upper() + name[1:]


# In


def has_written_rows(text: str) -> bool:
    """Whether a text is written rows; False for one that is too long to look at."""
    return len(text) <= MOST_LETTERS_OF_ROWS and looks_written(text)


def read_rows(
    text: str,
    how: Construction,
    *,
    yarns: Collection[str] | None = None,
) -> Chart:
    """The chart that written rows describe, each doubt settled as `read_written_rows` does.

    With `yarns` given, any other letter is refused.
    """
    return _read(text, how, {}, yarns, RowRemarks(RowAnswers())).chart


def read_written_rows(
    text: str,
    how: Construction,
    *,
    yarns: Mapping[str, str] | None = None,
    **answers: str | None,
) -> RowsChart:
    """The chart that written rows describe, with what was understood, left out and is in doubt.

    `yarns`, names by letter, give their letters to names in the text. What is None is found out or
    asked: `direction`, `repeats`, `order`, `capitals`, `slips`, `last_row`, `to_end`, `ridges` and
    `size`, with the answers of ROW_CHOICES. Raises PlanError, which names the line, where a row is
    no plain one.
    """
    return _read(text, how, yarns or {}, None, RowRemarks(RowAnswers(**answers)))


def _read(
    text: str,
    how: Construction,
    known: Mapping[str, str],
    only: Collection[str] | None,
    remarks: RowRemarks,
) -> RowsChart:
    script = script_of(text)
    by_rows = has_a_line_a_row(script, how, remarks)
    if by_rows:
        how = replace(how, fabric="stockinette")
    rows = rows_of(script, how, remarks)
    if script.untitled:
        rows = _in_order(rows, remarks)
    names = _names(rows)
    if only is not None:
        refuse_others(names, only)
    _ask_about_twice(rows, remarks)
    found = yarns_of(names, script.yarns, known, remarks)

    # The cells in working order, then as they are looked at.
    told = script.size[0] if script.size else script.cast_on
    written = cells_of(rows, remarks, told=told)
    cells, said = _directed(rows, written, script, how, remarks)
    if by_rows:
        cells = ridges_of(cells, rows, remarks)
    chart = _chart(cells, found)
    _ask_about_size(chart, script, remarks)
    notes = (
        _about_chart(chart, found),
        *said,
        *_about_rows(rows),
        *remarks.notes,
        *_about_left_out(script),
    )
    return RowsChart(chart, found.names, notes, tuple(remarks.asks))


def _in_order(rows: Rows, remarks: RowRemarks) -> Rows:
    """Rows without numbers, counted as they stand or from the last one."""
    number = len(rows)
    if number < 2:
        line = rows[0].line
        raise PlanError(
            f'Line {line} does not say which row it is. Write it like "Row 1 (RS): 10 A, 3 B".'
        )
    question = f"The lines have no numbers; they are counted as rows 1 to {number}. Is row 1 first?"
    if remarks.settle("order", question, "row 1 first") == "row 1 first":
        return rows
    return {number - 1 - row: written for row, written in rows.items()}


def _names(rows: Rows) -> list[Name]:
    """The yarns of all lines, each as often as it is written."""
    entries = {written.entry: written for written in rows.values()}
    names: list[Name] = []
    for entry in sorted(entries):
        names += names_in(entries[entry].body.parts)
    return names


def _ask_about_twice(rows: Rows, remarks: RowRemarks) -> None:
    """Ask about a yarn that stands twice in a row, where one of the two may be a slip."""
    entries = {written.entry: written for written in rows.values()}
    for written in entries.values():
        name = twice_over(written.body.parts)
        if name is None:
            continue
        question = f"Line {name.line} has two runs of {name.text} beside each other. Is one a slip?"
        if remarks.settle("slips", question, "yarns") == "slips":
            raise PlanError(
                f"Line {name.line} has two runs of {name.text} beside each other. Write the yarn "
                "that is meant, or both as one run."
            )


def _directed(
    rows: Rows,
    written: Mapping[int, Cells],
    script: Script,
    how: Construction,
    remarks: RowRemarks,
) -> tuple[list[Cells], list[str]]:
    """The cells of each row from the left, bottom row first, and notes on their direction."""
    stated = stated_order(rows, script.directions, how)
    told = remarks.told.direction
    said = []
    if stated and told is None:
        worked = as_told(AS_WORKED, how)
        order: Direction = lambda row: stated.get(row) or worked(row)  # noqa: E731
        if any(order(row) != worked(row) for row in rows):
            said.append(
                "Rows are read in the directions that the text says, which are not those in which "
                "the piece is worked."
            )
        return _resolved(rows, written, order), said
    order = as_told(told or AS_WORKED, how)
    cells = _resolved(rows, written, order)
    in_order = [row[:: order(number)] for number, row in enumerate(cells)]
    ask_about_ridges(in_order, rows, how, remarks)
    if told is None:
        ask_for_order(in_order, rows, how, remarks)
        said.append("Rows are read in the direction in which the piece is worked.")
    return cells, said


def _resolved(rows: Rows, written: Mapping[int, Cells], order: Direction) -> list[Cells]:
    """The cells of each row from the left; rows that go by others are looked up there."""
    in_order: list[Cells] = []
    seen: list[Cells] = []
    for row in range(len(rows)):
        body, line = rows[row].body, rows[row].line
        if body.as_set:
            if not seen:
                raise PlanError(
                    f"Line {line} goes on in the colours of the row below, but row 1 has none. "
                    "Write row 1 out."
                )
            cells = seen[-1][:: order(row)]
        elif body.as_rows:
            cells = in_order[_row_meant(rows, row)]
        else:
            cells = written[row]
        in_order.append(cells)
        seen.append(cells[:: order(row)])
    return seen


def _row_meant(rows: Rows, row: int) -> int:
    """The row that a row repeats: of "Rows 5–8: as rows 1–4" row 6 repeats row 2."""
    written = rows[row]
    assert written.body.as_rows
    first, last = written.body.as_rows
    length = last - first + 1
    alike = [number for number, each in rows.items() if each is written]
    alike.sort()
    place = alike.index(row)
    if not 1 <= first <= last or len(alike) % length:
        raise PlanError(
            f"Line {written.line} is for {counted(len(alike), 'row')}, which are no whole repeats "
            f"of rows {first} to {last}. Count them again."
        )
    meant = first - 1 + place % length
    if meant >= row:
        raise PlanError(
            f"Line {written.line}: row {row + 1} repeats row {meant + 1}, which does not come "
            "before it. Write the row out."
        )
    return meant


def _chart(cells: list[Cells], found: YarnsFound) -> Chart:
    letters = {**found.letters, NO_STITCH: NO_STITCH}
    # A chart is given top row first, which is worked last.
    rows = [[letters[cell] for cell in row] for row in reversed(cells)]
    return Chart.from_rows(rows, source=SOURCE)


def _ask_about_size(chart: Chart, script: Script, remarks: RowRemarks) -> None:
    """Ask where the text says that it has another size."""
    if script.size in (None, (chart.columns, chart.rows)):
        return
    stitches, rows = script.size or (0, 0)
    question = (
        f"The text says it has {stitches} stitches × {rows} rows; its rows make "
        f"{chart.columns} × {chart.rows}. Are they all there?"
    )
    if remarks.settle("size", question, "as the rows are") != "as the rows are":
        raise PlanError(
            f"The text of written rows says it has {stitches} × {rows}, but its rows make "
            f"{chart.columns} × {chart.rows}. Write what is missing."
        )


# Notes


def _about_chart(chart: Chart, found: YarnsFound) -> str:
    yarns = []
    for letter in chart.letters:
        name = found.names.get(letter, letter)
        yarns.append(letter if name == letter else f"{letter} ({name})")
    none = int((chart.cells < 0).sum())
    places = f", {counted(none, 'place')} without a stitch" if none else ""
    return (
        f"{counted(chart.rows, 'row')} of {counted(chart.columns, 'stitch')}{places}, in "
        f"{counted(len(yarns), 'yarn')}: {', '.join(yarns)}."
    )


def _about_rows(rows: Rows) -> list[str]:
    """Notes on rows that go by others, and on purl stitches among knit ones."""
    as_set = [str(row + 1) for row in sorted(rows) if rows[row].body.as_set]
    textured = [str(row + 1) for row in sorted(rows) if rows[row].body.textured]
    notes = []
    if as_set:
        notes.append(f"In the colours of the row below: rows {listed(as_set)}.")
    if textured:
        notes.append(
            f"Knit and purl stitches are mixed in rows {listed(textured)}; a chart keeps colours "
            "only."
        )
    return notes


def _about_left_out(script: Script) -> list[str]:
    if not script.left_out:
        return []
    lines = [f'line {line}, "{words[:MOST_OF_A_LINE]}"' for line, words in script.left_out]
    return [f"Left out, for they are no rows: {listed(lines)}."]
