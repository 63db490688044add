"""Which way written rows run: as the piece is worked, as the text says, or as they fit better."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from planner.charts.written_asks import (
    AS_WORKED,
    FROM_LEFT,
    FROM_RIGHT,
    THERE_AND_BACK,
    RowRemarks,
)
from planner.charts.written_numbers import Rows
from planner.piece import Construction
from planner.units import counted

# The other way is asked about unless it breaks so much more; where it is wrong it does by far.
CLEARLY = 1.15

Direction = Callable[[int], int]  # 1 for a chart row (from 0) written from the left, −1 right


def working_order(how: Construction, chart_row: int) -> int:
    """1 if the line of a chart row (from 0) reads from the left edge, −1 from the right."""
    row = chart_row * how.rows_per_chart_row
    return -1 if how.runs_leftwards(row) else 1


def stated_order(rows: Rows, directions: Mapping[str, int], how: Construction) -> dict[int, int]:
    """The direction of the rows of which the text says it."""
    stated = {}
    for row, written in rows.items():
        side = how.side(row * how.rows_per_chart_row)
        direction = written.title.direction or directions.get(side) or directions.get("all")
        if direction:
            stated[row] = direction
    return stated


def as_told(answer: str, how: Construction) -> Direction:
    """The direction of each row by an answer about them."""
    if answer == FROM_RIGHT:
        return lambda row: -1
    if answer == FROM_LEFT:
        return lambda row: 1
    first = working_order(how, 0)
    if answer == THERE_AND_BACK:
        return lambda row: first if row % 2 == 0 else -first
    return lambda row: working_order(how, row)


def ask_for_order(
    cells: Sequence[Sequence[str]], rows: Rows, how: Construction, remarks: RowRemarks
) -> None:
    """Ask which way the rows run, of which the text says nothing, where it is in doubt.

    `cells` are those of each row in the order in which they are written.
    """
    alternates = working_order(how, 0) != working_order(how, 1)
    every = FROM_RIGHT if working_order(how, 0) < 0 else FROM_LEFT
    rival = every if alternates else THERE_AND_BACK
    as_it_is = _breaks(cells, as_told(AS_WORKED, how))
    other_way = _breaks(cells, as_told(rival, how))
    words = {written.title.word for written in rows.values()}
    if not _differ(cells, as_told(AS_WORKED, how), as_told(rival, how)):
        return
    if other_way <= CLEARLY * as_it_is:
        better = "better" if other_way < as_it_is else "about as well"
        question = (
            f"The rows fit each other {better} if they are read {rival}: "
            f"{counted(other_way, 'stitch')} in another yarn than below, as it is {as_it_is:,}. "
            "Read them so?"
        )
        remarks.settle("direction", question, AS_WORKED)
    elif "round" in words and alternates and not how.is_tube:
        question = (
            "The text has rounds, the piece is worked in rows. Are its rounds written in one "
            "direction?"
        )
        remarks.settle("direction", question, AS_WORKED)


def _differ(cells: Sequence[Sequence[str]], direction: Direction, other: Direction) -> bool:
    """Whether a chart is another one in another direction of its rows."""
    for row, written in enumerate(cells):
        if direction(row) != other(row) and written != written[::-1]:
            return True
    return False


def _breaks(cells: Sequence[Sequence[str]], direction: Direction) -> int:
    """The stitches of a chart in another yarn than that below them."""
    breaks = 0
    below: Sequence[str] | None = None
    for row, written in enumerate(cells):
        seen = written[:: direction(row)]
        if below is not None:
            breaks += sum(here != under for here, under in zip(seen, below, strict=True))
        below = seen
    return breaks
