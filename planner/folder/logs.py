"""The logs of a piece, which only grow: measurements, progress, and what was decided by hand.

A line is added below the others, which keep their words and their order, also where a spreadsheet
has been at the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, fields, replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from planner.errors import PlanError
from planner.folder.files import number_in, read_table
from planner.multiplier import evidence_in
from planner.piece import (
    PARTS,
    UNDONE,
    WORKED,
    Entry,
    Measurement,
    OwnChoice,
    Project,
    check_mark,
    rows_worked,
)

Line = TypeVar("Line", Entry, Measurement)

MEASUREMENT_COLUMNS = tuple(field.name for field in fields(Measurement))
MEASUREMENTS_NEED = ("number", "date", "way", "yarn", "gauge_stitches")
PROGRESS_COLUMNS = tuple(field.name for field in fields(Entry))
PLAIN_DIGITS = 9  # so many are a number that every type holds exactly
PROGRESS_NEED = ("number", "date", "what", "row")
# `strand_then` is only for people: the label that the strand had when the choice was made.
CHOICE_COLUMNS = ("date", "about", "yarn", "row", "stitch", "part", "choice", "strand_then")
CHOICES_NEED = ("about", "yarn", "row", "stitch", "choice")


def read_log(path: Path, kind: type[Line], needed: tuple[str, ...]) -> tuple[Line, ...]:
    """The lines of a log, in the order of their numbers, whatever their order in the file.

    An empty cell keeps the default of its field; `needed` are the fields that have none.
    """
    if not path.exists():
        return ()
    types = {field.name: str(field.type) for field in fields(kind)}
    log: list[Line] = []
    for place, row in read_table(path, tuple(types), needed=needed).items():
        # The number is what the knitter knows a line by; without one the place must do.
        number = f", number {row['number']}" if row["number"] else ""
        what = f"{path.name} line {place}{number}: "
        values = {}
        for name, text in row.items():
            if name in types and text:
                values[name] = _value_in(text, types[name], what + name)
        missing = [name for name in needed if name not in values]
        if missing:
            raise PlanError(f"{what}{missing[0]} is empty. Fill it in, or take the whole line out.")
        log.append(kind(**values))
    _check_numbers(log, path.name)
    # A spreadsheet may have sorted them by another column.
    return tuple(sorted(log, key=lambda line: line.number))


def _check_numbers(log: Sequence[Entry | Measurement], file: str) -> None:
    """Refuse a log with two lines of one number: a correction could mean either."""
    for number, lines in Counter(line.number for line in log).items():
        if lines > 1:
            raise PlanError(
                f"{file} has two lines with the number {number}. Give the later one a number of "
                "its own."
            )


def _value_in(text: str, field_type: str, what: str) -> Any:
    """A cell of a log as its field's type wants it: text, a number, or a whole number."""
    if field_type == "str":
        return text
    # Most cells of a long log: no fraction is needed to read them exactly.
    if text.isascii() and text.isdigit() and len(text) <= PLAIN_DIGITS:
        return int(text) if field_type.startswith("int") else float(text)
    number = number_in(text, what)
    # "int" and "int | None" are for whole numbers.
    if number is None or not field_type.startswith("int"):
        return number
    if number != int(number):
        raise PlanError(f'{what} is "{text}"; a whole number was expected.')
    return int(number)


def next_number(log: Iterable[Entry | Measurement]) -> int:
    """The number of the next line of a log."""
    return max((line.number for line in log), default=0) + 1


def read_measurements(folder: Path) -> tuple[Measurement, ...]:
    """The measurements of a piece; none if there is no such file."""
    return read_log(folder / "measurements.csv", Measurement, MEASUREMENTS_NEED)


def with_measurement(
    log: Sequence[Measurement], make: Callable[[int], Measurement]
) -> tuple[Measurement, ...]:
    """The log with one line more: what `make` returns when it is given the next number."""
    new = make(next_number(log))
    evidence_in(new)  # refuses what leaves nothing for the stitches
    if new.corrects is not None and new.corrects not in {line.number for line in log}:
        raise PlanError(
            f"Number {new.corrects}, whose place this line should take, is not in the log."
        )
    return (*log, new)


def read_progress(folder: Path) -> tuple[Entry, ...]:
    """The progress of a piece; none if there is no such file."""
    return read_log(folder / "progress.csv", Entry, PROGRESS_NEED)


def with_entry(project: Project, what: str, row: int, **values: Any) -> tuple[Entry, ...]:
    """The progress of a piece with one line more; `values` are further fields of the Entry.

    A row that cannot be marked is refused.
    """
    log, totals = project.progress, project.row_totals()
    rows_worked(log, totals)  # refuses the log of another chart
    if what in (WORKED, UNDONE):
        check_mark(log, what, row, len(totals))
        # Read back, it tells whether the log belongs to the chart.
        values["stitches"] = totals[row - 1]
    return (*log, Entry(next_number(log), date.today().isoformat(), what, row, **values))


def read_choices(path: Path) -> tuple[OwnChoice, ...]:
    """What the knitter decided by hand; none if there is no such file.

    Of two lines about one place the later holds, and an empty choice withdraws.
    """
    if not path.exists():
        return ()
    rows = read_table(path, CHOICE_COLUMNS, needed=CHOICES_NEED).values()
    return settled(_choice_in(row, path.name) for row in rows)


def choices_as_taken(path: Path) -> list[tuple[str, tuple[OwnChoice, ...]]]:
    """The choices that hold, those that were taken together together, with the words for them.

    They are taken together whose lines follow each other under the same words; "" where a line has
    no words.
    """
    if not path.exists():
        return []
    lines = []
    words_of: dict[OwnChoice, tuple[int, str]] = {}
    number, last_words = 0, ""
    for row in read_table(path, CHOICE_COLUMNS, needed=CHOICES_NEED).values():
        words = row.get("strand_then", "")
        # Without words nothing says that two lines belong together.
        if words != last_words or not words:
            number, last_words = number + 1, words
        choice = _choice_in(row, path.name)
        lines.append(choice)
        words_of[choice] = number, words
    together: dict[tuple[int, str], list[OwnChoice]] = {}
    for choice in settled(lines):
        together.setdefault(words_of[choice], []).append(choice)
    return [(words, tuple(choices)) for (_, words), choices in together.items()]


def settled(choices: Iterable[OwnChoice]) -> tuple[OwnChoice, ...]:
    """The choices that hold: of two about one place the later, and an empty one withdraws."""
    by_place: dict[OwnChoice, OwnChoice] = {}
    for choice in choices:
        place = replace(choice, choice="")
        # Taken out first, so that the later line also comes later.
        by_place.pop(place, None)
        if choice.choice:
            by_place[place] = choice
    return tuple(by_place.values())


def _choice_in(row: Mapping[str, str], file: str) -> OwnChoice:
    """The choice in a line of choices.csv."""
    # The strand's label helps the knitter to find the line; the yarn is always there.
    what = f"{file}, {row.get('strand_then') or row['yarn']}: "
    place = [number_in(row[name], what + name) or 0 for name in ("row", "stitch")]
    if any(number < 1 or number != int(number) for number in place):
        raise PlanError(
            f'{what}row and stitch are "{row["row"]}" and "{row["stitch"]}"; both are whole '
            "numbers from 1."
        )
    return OwnChoice(
        about=row["about"],
        yarn=row["yarn"],
        row=int(place[0]),
        stitch=int(place[1]),
        # A choice about a whole strand need not say so.
        part=row.get("part") or PARTS[0],
        choice=row["choice"],
    )


def lines_of_choices(
    before: Sequence[OwnChoice], after: Sequence[OwnChoice], strand_then: str, on: date
) -> list[dict[str, object]]:
    """The lines of choices.csv that make the choices `before` into those `after`."""
    stay = [choice for choice in before if choice in after]
    # The later of two about one area holds, so their order counts: from the first that stands
    # elsewhere on all are put down once more.
    first = 0
    while first < len(stay) and stay[first] == after[first]:
        first += 1
    made = after[first:]
    places = {replace(choice, choice="") for choice in after}
    # An empty choice withdraws.
    empty = [replace(choice, choice="") for choice in before]
    withdrawn = [choice for choice in empty if choice not in places]
    day = {"date": on.isoformat()}
    return [day | asdict(choice) | {"strand_then": strand_then} for choice in (*withdrawn, *made)]
