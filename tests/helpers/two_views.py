"""Two views of one folder, changed in turn, against a plain model of what it must hold.

The model knows no files and no merging: what was acknowledged is in it, each thing by its name, the
last one put down. After every step the folder holds just that.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from planner import CarryLimits, Chart, Gauge, PlanError, open_project
from planner.folder import (
    change_piece,
    merged,
    see,
    settled,
    stamp_of,
    with_entry,
    with_measurement,
)
from planner.piece import UNDONE, WORKED, OwnChoice, Project, Yarn, rows_worked
from planner.workbook import Desk
from planner.workbook.row_by_row import mark_rows
from tests.helpers.folders import write
from tests.helpers.writers import measured

ROWS, COLUMNS = 4, 6
START = ["AAAAAA", "AABBAA", "AABBAA", "AAAAAA"]

views = st.integers(0, 1)
letters = st.sampled_from("ABC")
small_numbers = st.integers(1, 4)


class View:
    """A piece as it was seen last, changed in its folder: what a desk is, without a plan."""

    checks_worked_rows = False

    def __init__(self, folder: Path):
        self._seen = see(folder)

    @property
    def project(self) -> Project:
        """The piece as it was seen last."""
        return self._seen.project

    def look(self) -> None:
        """Take up what has changed."""
        if stamp_of(self._seen.folder) != self._seen.stamp:
            self._seen = see(self._seen.folder)

    def act(self, change: Callable[[Project], Project]) -> None:
        """Change the piece."""
        self._seen, _ = change_piece(self._seen, change, check=lambda _: None)

    def change(self, **changes: Any) -> None:
        """Ask for something else than is shown."""
        shown, touched = self.project, replace(self.project, **changes)
        self.act(lambda held: merged(shown, touched, held))

    def mark(self, row: int) -> None:
        """Mark the rows up to this one as worked, or take back those after it."""
        done = rows_worked(self.project.progress)
        if row == done:
            raise PlanError("It is the last one worked already.")
        lines = [(WORKED, each) for each in range(done + 1, row + 1)] or [(UNDONE, row + 1)]

        def marked(held: Project) -> Project:
            for what, each in lines:
                held = replace(held, progress=with_entry(held, what, each))
            return held

        self.act(marked)


class DeskView(Desk):
    """A desk as a view."""

    checks_worked_rows = True

    def __init__(self, folder: Path):
        super().__init__(see(folder))

    def mark(self, row: int) -> None:
        """Mark the rows up to this one as worked, or take back those after it."""
        mark_rows(self, row)


class TwoViews(RuleBasedStateMachine):
    """Two views change one piece; each may show what the other has changed since."""

    kind: type = View

    @initialize()
    def begin(self) -> None:
        """A small piece, seen by both."""
        self.place = tempfile.TemporaryDirectory()
        self.folder = Path(self.place.name)
        write(self.folder, chart="\n".join(START) + "\n")
        self.views = [self.kind(self.folder) for _ in range(2)]
        # Of what is asked for, each by its name.
        self.asked: dict[Any, Any] = {}
        self.cells = {(r, c): START[r][c] for r in range(ROWS) for c in range(COLUMNS)}
        self.choices: dict[int, str] = {}
        self.measured: list[str] = []
        self.worked = 0

    def teardown(self) -> None:
        """The folder goes."""
        if hasattr(self, "place"):
            self.place.cleanup()

    def _set(self, view: int, name: Any, value: Any, /, **changes: Any) -> None:
        # A box that is set to what it shows was not touched.
        if read(self.views[view].project, name) == value:
            return
        self.views[view].change(**changes)
        self.asked[name] = value
        self._shows_what_is_there(view)

    def _shows_what_is_there(self, view: int) -> None:
        assert self.views[view].project == open_project(self.folder)

    @rule(view=views, value=small_numbers)
    def tail(self, view: int, value: int) -> None:
        """One of the allowances."""
        allow = replace(self.views[view].project.allow, tail_cm=10 + value)
        self._set(view, "tail", 10 + value, allow=allow)

    @rule(view=views, value=small_numbers)
    def margin(self, view: int, value: int) -> None:
        """Another of the allowances."""
        allow = replace(self.views[view].project.allow, cast_on=value)
        self._set(view, "cast on", value, allow=allow)

    @rule(view=views, value=small_numbers)
    def gauge(self, view: int, value: int) -> None:
        """Stitches of the gauge."""
        gauge = replace(self.views[view].project.gauge, stitches=20 + value)
        self._set(view, "stitches", 20 + value, gauge=gauge)

    @rule(view=views, value=st.sampled_from(["Scarf", "Shawl", 'a "b"\n c', "# no comment"]))
    def name(self, view: int, value: str) -> None:
        """The name of the piece."""
        self._set(view, "name", value, name=value)

    @rule(view=views, letter=letters, value=st.sampled_from(["Moss", "=1+1", 'x,"y"', "navy"]))
    def yarn(self, view: int, letter: str, value: str) -> None:
        """The name of a yarn."""
        yarns = self.views[view].project.yarns
        yarn = replace(yarns.get(letter, Yarn(letter)), name=value)
        self._set(view, ("yarn", letter), value, yarns={**yarns, letter: yarn})

    @rule(view=views, letter=letters, value=small_numbers)
    def balls(self, view: int, letter: str, value: int) -> None:
        """The balls in hand of a yarn."""
        yarns = self.views[view].project.yarns
        yarn = replace(yarns.get(letter, Yarn(letter)), balls_in_hand=value)
        self._set(view, ("balls", letter), value, yarns={**yarns, letter: yarn})

    @rule(view=views, letter=letters, value=st.integers(0, 3))
    def own_limits(self, view: int, letter: str, value: int) -> None:
        """How far one yarn is carried; 0 is by the general limits."""
        by_yarn = dict(self.views[view].project.by_yarn)
        by_yarn.pop(letter, None)
        if value:
            by_yarn[letter] = CarryLimits(across=value)
        self._set(view, ("limits", letter), value, by_yarn=by_yarn)

    @rule(
        view=views,
        cells=st.dictionaries(
            st.tuples(st.integers(0, ROWS - 1), st.integers(0, COLUMNS - 1)),
            letters,
            min_size=1,
            max_size=8,
        ),
    )
    def paint(self, view: int, cells: dict[tuple[int, int], str]) -> None:
        """A stroke over some cells, as the view shows them."""
        rows = self.views[view].project.chart.to_rows()
        touched = {(r, c): letter for (r, c), letter in cells.items() if rows[r][c] != letter}
        for (r, c), letter in touched.items():
            rows[r][c] = letter
        if not touched:
            return
        knitted = [(r, c) for r, c in touched if r >= ROWS - self.worked]
        refused = any(self.cells[place] != touched[place] for place in knitted)
        try:
            self.views[view].change(chart=Chart.from_rows(rows))
        except PlanError:
            assert refused
            assert self.views[view].checks_worked_rows
            return
        assert not (refused and self.views[view].checks_worked_rows)
        self.cells |= touched
        self._shows_what_is_there(view)

    @rule(view=views, row=small_numbers, choice=st.sampled_from(["bobbin", "butterfly", ""]))
    def choose(self, view: int, row: int, choice: str) -> None:
        """A choice of a supply; the empty one withdraws."""
        own = OwnChoice("supply", "A", row, 1, "whole", choice)
        self.views[view].act(lambda held: replace(held, choices=settled((*held.choices, own))))
        self.choices.pop(row, None)
        if choice:
            self.choices[row] = choice
        self._shows_what_is_there(view)

    @rule(view=views)
    def measure(self, view: int) -> None:
        """A line in the log of measurements."""
        note = f"by {view}, {len(self.measured)}"
        self.views[view].act(
            lambda held: replace(
                held,
                measurements=with_measurement(
                    held.measurements, lambda number: measured(number, note=note)
                ),
            )
        )
        self.measured.append(note)
        self._shows_what_is_there(view)

    @rule(view=views, row=st.integers(0, ROWS))
    def mark(self, view: int, row: int) -> None:
        """Worked up to a row, or back to it; refused where another is shown, and the same again."""
        is_current = self.views[view].project == open_project(self.folder)
        try:
            self.views[view].mark(row)
        except PlanError:
            # The card may be another by now.
            assert not is_current or self.worked == row
            return
        self.worked = row
        self._shows_what_is_there(view)

    @rule(view=views)
    def look(self, view: int) -> None:
        """Take up what the other has changed."""
        self.views[view].look()
        self._shows_what_is_there(view)

    @invariant()
    def the_folder_holds_what_was_acknowledged(self) -> None:
        """All of it, once, and nothing else."""
        if not hasattr(self, "folder"):
            return
        piece = open_project(self.folder)
        assert {name: read(piece, name) for name in self.asked} == self.asked
        rows = piece.chart.to_rows()
        assert {(r, c): rows[r][c] for r, c in self.cells} == self.cells
        assert {choice.row: choice.choice for choice in piece.choices} == self.choices
        assert [line.note for line in piece.measurements] == self.measured
        assert [line.number for line in piece.measurements] == list(
            range(1, len(self.measured) + 1)
        )
        assert rows_worked(piece.progress) == self.worked
        if "stitches" not in self.asked:
            assert piece.gauge == Gauge()


class TwoDesks(TwoViews):
    """Two desks on one piece, each with its plan."""

    kind = DeskView


def read(piece: Project, name: Any) -> Any:
    """What a piece asks for, by the name it has in the model."""
    with suppress(KeyError):
        if name == "tail":
            return piece.allow.tail_cm
        if name == "cast on":
            return piece.allow.cast_on
        if name == "stitches":
            return piece.gauge.stitches
        if name == "name":
            return piece.name
        kind, letter = name
        if kind == "limits":
            own = piece.by_yarn.get(letter)
            return own.across if own else 0
        yarn = piece.yarns[letter]
        return yarn.name if kind == "yarn" else yarn.balls_in_hand
    return None
