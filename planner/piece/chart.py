"""The chart: a grid of yarn letters, seen from the right side of the work."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.errors import PlanError
from planner.units import counted

NO_STITCH = "."
LETTER = re.compile(r"[^\W\d_]{1,3}")


@dataclass(frozen=True, eq=False)
class Chart:
    """A grid of yarn letters. `cells` is rows × columns of small ints: row 0 is chart row 1 (the bottom row),
    column 0 the left-hand edge; each int is an index into `letters`, −1 a no-stitch cell."""

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
        """A chart from its rows, top row first; a row is a string of letters or a sequence of cells.

        `source` and `lines`, the file and the number of the line that each row stands on, go into messages.
        """
        grid = [[str(cell).strip() for cell in row] for row in rows]
        if not grid:
            raise PlanError(f"{source} is empty. Give at least one row of yarn letters.")
        height, widths = len(grid), [len(row) for row in grid]
        usual = max(set(widths), key=lambda width: (widths.count(width), width))
        for i, row in enumerate(grid):
            number, line = height - i, lines[i] if lines else i + 1
            if len(row) != usual:
                raise PlanError(
                    f"{source} row {number} (line {line}) has {counted(len(row), 'stitch')}, the others {usual}. "
                    f"Add or take away stitches; a place without a stitch is written '{NO_STITCH}'."
                )
            for j, cell in enumerate(row):
                if cell != NO_STITCH and not LETTER.fullmatch(cell):
                    what = f'"{cell}"' if cell else "nothing"
                    raise PlanError(
                        f"{source} row {number}, stitch {usual - j} from the right (line {line}, column {j + 1}) holds {what}, "
                        f"not a yarn letter. Use one to three letters for a yarn and '{NO_STITCH}' for no stitch."
                        + (
                            " A line or column of numbers is left out of the file."
                            if cell.isdigit()
                            else ""
                        )
                    )
        letters = sorted({cell for row in grid for cell in row} - {NO_STITCH})
        index = {letter: i for i, letter in enumerate(letters)} | {NO_STITCH: -1}
        return cls.from_cells(
            [[index[cell] for cell in row] for row in reversed(grid)], letters, source=source
        )

    @classmethod
    def from_cells(
        cls,
        cells: np.ndarray | Sequence[Sequence[int]],
        letters: Sequence[str],
        *,
        source: str = "The chart",
    ) -> Chart:
        """A chart from rows × columns of places in `letters` (−1 no stitch), bottom row first; letters not used are dropped."""
        cells = np.asarray(cells, dtype=np.int16)
        bare = np.flatnonzero((cells < 0).all(axis=1))
        if bare.size:
            raise PlanError(
                f"{source} row {bare[0] + 1} has no worked stitch. Take the row out, or put its stitches in."
            )
        used = sorted(np.unique(cells[cells >= 0]).tolist(), key=lambda place: letters[place])
        place = np.full(len(letters) + 1, -1, dtype=np.int16)
        place[used] = np.arange(len(used))
        cells = place[cells]  # −1 is the last place, no stitch again
        cells.setflags(write=False)
        return cls(cells, tuple(letters[i] for i in used))

    @property
    def rows(self) -> int:
        return self.cells.shape[0]

    @property
    def columns(self) -> int:
        return self.cells.shape[1]

    def to_rows(self) -> list[list[str]]:
        """The letters, top row first, as `from_rows` takes them."""
        names = np.array(
            [*self.letters, NO_STITCH], dtype=object
        )  # index −1 is the last: no stitch
        return names[self.cells[::-1]].tolist()

    def stitches(self) -> dict[str, int]:
        """Worked stitches of the chart by yarn letter."""
        counts = np.bincount(self.cells[self.cells >= 0], minlength=len(self.letters))
        return dict(zip(self.letters, counts.tolist(), strict=True))

    def whole(self, *, centre_at: str, centre: str) -> Chart:
        """The whole chart of a half one. `centre_at`: the edge, left or right, where the halves meet; `centre`: whether
        the stitch there stands "once" in the whole (34 columns give 67) or "twice" (31 give 62)."""
        if centre_at not in ("left", "right") or centre not in ("once", "twice"):
            raise PlanError(
                f'A half chart has its centre at "{centre_at}", "{centre}": give left or right, and once or twice.'
            )
        half = self.cells if centre_at == "left" else self.cells[:, ::-1]
        other = half[:, ::-1][:, : -1 if centre == "once" else None]
        whole = np.hstack((other, half)) if other.size else half.copy()
        whole.setflags(write=False)
        return Chart(whole, self.letters)

    def __eq__(self, other):
        return (
            isinstance(other, Chart)
            and self.letters == other.letters
            and np.array_equal(self.cells, other.cells)
        )

    def __repr__(self):
        return f"Chart of {self.columns} stitches × {self.rows} rows in {len(self.letters)} yarns: {', '.join(self.letters)}"


def mirror(chart: Chart) -> Chart:
    """The chart with left and right changed over, as for a second front."""
    return Chart.from_cells(chart.cells[:, ::-1], chart.letters)
