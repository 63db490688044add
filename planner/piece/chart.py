"""The chart: a grid of yarn letters, seen from the right side of the work."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.errors import PlanError
from planner.guards import check_chart, check_yarns
from planner.units import counted

NO_STITCH = "."
LETTER = re.compile(r"[^\W\d_]{1,3}")  # one to three letters of any alphabet


@dataclass(frozen=True, eq=False)
class Chart:
    """A grid of yarn letters.

    `cells` is rows × columns of small ints: row 0 is chart row 1, the bottom row, and column 0 the
    left-hand edge. Each int is a place in `letters`; −1 is a no-stitch cell.
    """

    cells: np.ndarray
    letters: tuple[str, ...]

    @classmethod
    def from_rows(
        cls,
        rows: Iterable[str | Sequence[str]],
        *,
        source: str = "The chart",
        lines: Sequence[int] | None = None,
    ) -> Chart:
        """A chart from its rows, top row first; a row is a string of letters or a list of cells.

        `source` and `lines`, the file and the number of the line that each row stands on, go into
        messages.
        """
        grid = [[str(cell).strip() for cell in row] for row in rows]
        _check_grid(grid, source, lines or range(1, len(grid) + 1))
        letters = sorted({cell for row in grid for cell in row} - {NO_STITCH})
        check_yarns(len(letters), source)
        place_of = {letter: place for place, letter in enumerate(letters)}
        place_of[NO_STITCH] = -1
        # Read from the top as it is looked at, kept from the bottom as it is knitted.
        cells = [[place_of[cell] for cell in row] for row in reversed(grid)]
        return cls.from_cells(cells, letters, source=source)

    @classmethod
    def from_cells(
        cls,
        cells: np.ndarray | Sequence[Sequence[int]],
        letters: Sequence[str],
        *,
        source: str = "The chart",
    ) -> Chart:
        """A chart from rows × columns of places in `letters` (−1 no stitch), bottom row first.

        Letters that are not used are dropped.
        """
        places = np.asarray(cells, dtype=np.int16)
        check_chart(places.shape[1], len(places), source)
        bare_rows = np.flatnonzero((places < 0).all(axis=1))
        if bare_rows.size:
            raise PlanError(
                f"{source} row {bare_rows[0] + 1} has no worked stitch. Take the row out, or put "
                "its stitches in."
            )
        used: list[int] = np.unique(places[places >= 0]).tolist()
        used.sort(key=lambda place: letters[place])
        # The new place of each old one. The place −1 looks up the last entry, which stays −1.
        new_place = np.full(len(letters) + 1, -1, dtype=np.int16)
        new_place[used] = np.arange(len(used))
        return cls(_frozen(new_place[places]), tuple(letters[place] for place in used))

    @property
    def rows(self) -> int:
        return len(self.cells)

    @property
    def columns(self) -> int:
        return len(self.cells[0])

    def to_rows(self) -> list[list[str]]:
        """The letters, top row first, as `from_rows` takes them."""
        # −1 looks up the last name, which is that of no stitch.
        names = np.array([*self.letters, NO_STITCH], dtype=object)
        rows: list[list[str]] = names[self.cells[::-1]].tolist()
        return rows

    def stitches(self) -> dict[str, int]:
        """Worked stitches of the chart by yarn letter."""
        worked = self.cells[self.cells >= 0]
        counts = np.bincount(worked, minlength=len(self.letters))
        return dict(zip(self.letters, counts.tolist(), strict=True))

    def whole(self, *, centre_at: str, centre: str) -> Chart:
        """The whole chart of a half one, mirrored about its centre.

        `centre_at`: the edge, left or right, where the halves meet. `centre`: whether the stitch
        there stands "once" in the whole (34 columns give 67) or "twice" (31 give 62).
        """
        if centre_at not in ("left", "right") or centre not in ("once", "twice"):
            raise PlanError(
                f'A half chart has its centre at "{centre_at}", "{centre}": give left or right, '
                "and once or twice."
            )
        right_half = self.cells if centre_at == "left" else self.cells[:, ::-1]
        left_half = right_half[:, ::-1]
        if centre == "once":
            left_half = left_half[:, :-1]  # the centre stitch stands in the right half already
        return Chart.from_cells(np.hstack((left_half, right_half)), self.letters)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Chart) or self.letters != other.letters:
            return False
        return np.array_equal(self.cells, other.cells)

    def __repr__(self) -> str:
        letters = ", ".join(self.letters)
        size = f"{self.columns} stitches × {self.rows} rows"
        return f"Chart of {size} in {len(self.letters)} yarns: {letters}"


def mirror(chart: Chart) -> Chart:
    """The chart with left and right changed over, as for a second front."""
    return Chart.from_cells(chart.cells[:, ::-1], chart.letters)


def _frozen(cells: np.ndarray) -> np.ndarray:
    """The cells, not to be written to any more: a chart is a value, and plans are kept by it."""
    cells.setflags(write=False)
    return cells


def _check_grid(grid: list[list[str]], source: str, lines: Sequence[int]) -> None:
    """Refuse an empty grid, rows of unequal length, and cells that hold no yarn letter."""
    if not grid:
        raise PlanError(f"{source} is empty. Give at least one row of yarn letters.")
    widths = [len(row) for row in grid]
    check_chart(max(widths), len(grid), source)
    # The width that most rows have is the one that is meant; of two as frequent, the larger.
    usual = max(set(widths), key=lambda width: (widths.count(width), width))
    for i, row in enumerate(grid):
        # The grid comes top row first; the bottom row of a chart is row 1.
        number = len(grid) - i
        line = lines[i]
        if len(row) != usual:
            raise PlanError(
                f"{source} row {number} (line {line}) has {counted(len(row), 'stitch')}, the "
                f"others {usual}. Add or take away stitches; a place without a stitch is written "
                f"'{NO_STITCH}'."
            )
        for j, cell in enumerate(row):
            if cell == NO_STITCH or LETTER.fullmatch(cell):
                continue
            place = f"stitch {usual - j} from the right (line {line}, column {j + 1})"
            raise PlanError(f"{source} row {number}, {place} {_no_letter(cell)}")


def _no_letter(cell: str) -> str:
    """What is wrong with a cell that holds no yarn letter, and what to do."""
    content = f'"{cell}"' if cell else "nothing"
    message = (
        f"holds {content}, not a yarn letter. Use one to three letters for a yarn and "
        f"'{NO_STITCH}' for no stitch."
    )
    if cell.isdigit():
        message += " A line or column of numbers is left out of the file."
    return message
