"""The chart as a thing to paint on, in the browser; the desk is told of every stroke.

What the browser does stands in painting.mjs and the files that are sent with it. Shape and cells
travel together as bytes: two for rows, two for columns, then a byte a cell, bottom row first; the
byte is the yarn's place in `yarns`, 255 no stitch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import anywidget
import numpy as np
import traitlets

from planner import pictures
from planner.colour import ink_on
from planner.errors import PlanError
from planner.piece import NO_STITCH, Chart, Project, Yarn, rows_worked
from planner.plan import Plan
from planner.units import counted, show_total
from planner.workbook.desk import Desk, note_trouble
from planner.workbook.panes import WENT_WRONG, picture_png
from planner.workbook.yarns import yarn_typed

NO_STITCH_BYTE = 255
ANOTHER_PIECE = "Another piece was opened meanwhile, so this stroke is not kept."
CHANGED_SIZE = "The chart has been given another size elsewhere; it is shown now. Paint once more."
MOST_YARNS_TO_PAINT_WITH = 250  # that fit into a byte, with room to spare
SHAPE_BYTES = 4  # of rows and columns, before the cells
NO_STRAND = np.iinfo(np.uint16).max

# What each of these files is for says the last one.
PARTS = ("shared", "geometry", "steps", "painted", "paper", "hand", "painting")


def pack(chart: Chart, letters: list[str]) -> bytes:
    """A chart as the browser holds it, its yarns counted by their place among `letters`."""
    places = [letters.index(letter) for letter in chart.letters]
    # A cell without a stitch is −1 in a chart, which takes the last of these bytes.
    byte_of = np.array([*places, NO_STITCH_BYTE], dtype=np.uint8)
    shape = chart.rows.to_bytes(2) + chart.columns.to_bytes(2)
    return shape + byte_of[chart.cells].tobytes()


def unpack(grid: bytes, letters: list[str]) -> Chart:
    """The chart that the browser holds."""
    shape = int.from_bytes(grid[:2]), int.from_bytes(grid[2:SHAPE_BYTES])
    places = np.frombuffer(grid, np.uint8, offset=SHAPE_BYTES).astype(np.int16).reshape(shape)
    cells = np.where(places == NO_STITCH_BYTE, -1, places)
    return Chart.from_cells(cells, letters, source="The painted chart:")


def _letters_of(chart: Chart) -> np.ndarray:
    """The yarn of each cell, bottom row first, "." for no stitch."""
    # No stitch is −1, which takes the last of these.
    letters: np.ndarray = np.array([*chart.letters, NO_STITCH], dtype=object)[chart.cells]
    return letters


def headline(plan: Plan) -> str:
    """What the plan comes to, in a line."""
    fullest = plan.rows.loc[plan.rows.live.idxmax()]
    strands = counted(plan.traced.count, "strand")
    yarn = show_total(plan.yarn_cm, plan.project.units)
    return (
        f"{strands} · {plan.ends_in_all} ends · at most {int(fullest.live)} at once "
        f"({fullest.load}) · {yarn} of yarn to wind"
    )


def module_of(parts: Sequence[str]) -> str:
    """The browser's side of a widget from these files: a widget is one module."""
    paths = [Path(__file__).with_name(f"{part}.mjs") for part in parts]
    return "\n".join(path.read_text(encoding="utf-8") for path in paths)


def yarns_in_browser(yarns: Mapping[str, Yarn]) -> dict[str, dict[str, str]]:
    """What the browser knows of each yarn, by its letter."""
    known = {}
    for letter, yarn in yarns.items():
        ink = ink_on(yarn.colour)
        known[letter] = {"letter": letter, "title": yarn.title, "colour": yarn.colour, "ink": ink}
    return known


class ChartInBrowser(anywidget.AnyWidget):
    """The chart on the desk as the browser draws it; a saved notebook has a picture instead."""

    grid = traitlets.CBytes().tag(sync=True)
    yarns: traitlets.List[dict[str, str]] = traitlets.List().tag(sync=True)
    # Height of a chart row ÷ width of a stitch.
    aspect = traitlets.Float(1.0).tag(sync=True)
    # Whether rows 1, 3, 5 … and rows 2, 4, 6 … begin at the right.
    begins_right: traitlets.List[bool] = traitlets.List([True, False]).tag(sync=True)
    # Chart rows that are knitted and stay as they are.
    worked = traitlets.Int(0).tag(sync=True)

    def __init__(self, desk: Desk):
        super().__init__()
        self._desk = desk

    def _show_construction(self) -> None:
        """Show how the chart is worked, and how far it is knitted."""
        project = self._desk.project
        how = project.how
        worked_rows = how.rows_per_chart_row
        self.aspect = float(project.gauge.aspect) * worked_rows
        self.begins_right = [how.runs_leftwards(0), how.runs_leftwards(worked_rows)]
        # A ridge of garter that is begun stays as it is, so the count is rounded up.
        self.worked = -(-rows_worked(project.progress) // worked_rows)

    # Without the metadata that comes beside it: the notebook needs none.
    def _repr_mimebundle_(  # type: ignore[override]
        self, **kwargs: Any
    ) -> dict[str, Any] | None:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
        picture = picture_png(pictures.draw_chart(self._desk.plan))
        return data | {"text/plain": repr(self), "image/png": picture}


class Painting(ChartInBrowser):
    """The chart on the desk, to paint on.

    A stroke is kept at once; what cannot be kept is said, and offered to be done again.
    """

    _esm = module_of(PARTS)
    # The piece's folder, under which the browser keeps what outlives it; "" keeps nothing.
    piece = traitlets.Unicode().tag(sync=True)
    # Whether the last column is beside the first one.
    tube = traitlets.Bool(False).tag(sync=True)
    # Strokes painted, and how many of these are planned.
    stroke = traitlets.Int(0).tag(sync=True)
    # The cells painted since the last answer, four bytes each; none: the whole chart is meant.
    touched = traitlets.CBytes().tag(sync=True)
    answered = traitlets.Int(0).tag(sync=True)
    # How many pieces were opened before this one, and the one that the last stroke was made in.
    sitting = traitlets.Int(0).tag(sync=True)
    painted_in = traitlets.Int(0).tag(sync=True)
    headline = traitlets.Unicode().tag(sync=True)
    trouble = traitlets.Unicode().tag(sync=True)
    show_strands = traitlets.Bool(False).tag(sync=True)
    # The strand of each cell, two bytes a cell in the order of `grid`, and what each strand is.
    strand_of = traitlets.Bytes().tag(sync=True)
    strand_yarn: traitlets.List[int] = traitlets.List().tag(sync=True)
    strand_labels: traitlets.List[str] = traitlets.List().tag(sync=True)
    tints: traitlets.List[str] = traitlets.List().tag(sync=True)

    def __init__(self, desk: Desk):
        super().__init__(desk)
        # Whether a stroke is being kept, and whether the grid is set here, not by the browser.
        self._keeping = self._showing = self._has_arrived = False
        self._follow()
        self.observe(self._painted, names="grid")
        self.observe(lambda _: self._send_strands(), names="show_strands")
        self.on_msg(self._asked_for_yarn)
        desk.on_change(self._follow)
        desk.on_arrival(self._arrive)

    @property
    def letters(self) -> list[str]:
        """The yarns to paint with, by their places in the bytes."""
        return [yarn["letter"] for yarn in self.yarns]

    def _arrive(self) -> None:
        """Another piece lies on the desk."""
        self._has_arrived = True

    def _follow(self) -> None:
        """Show what is on the desk now."""
        project = self._desk.project
        if len(project.all_yarns) > MOST_YARNS_TO_PAINT_WITH:
            raise PlanError(
                f"The chart has {len(project.all_yarns)} yarns; one to paint on has at most "
                f"{MOST_YARNS_TO_PAINT_WITH}."
            )
        with self.hold_sync():
            if self._has_arrived:
                # No step back on the page leads to the piece that was here before.
                self.sitting, self.yarns, self.trouble = self.sitting + 1, [], ""
                self._has_arrived = False
            # The first change of the demo goes on in a copy of it.
            self.piece = "" if project.folder is None else str(project.folder.resolve())
            self.yarns = self._yarns_in_place(project.all_yarns)
            self.tube = project.how.is_tube
            self._show_construction()
            self.headline = headline(self._desk.plan)
            self._show_grid()
            # The stroke is kept by now; it is answered before tables and pictures are drawn.
            if self._keeping:
                self.answered = self.stroke
            self._send_strands()

    def _show_grid(self) -> None:
        """Show the chart that holds."""
        grid = pack(self._desk.project.chart, self.letters)
        if grid != self.grid:
            self._showing = True
            try:
                self.grid = grid
            finally:
                self._showing = False

    def _yarns_in_place(self, yarns: dict[str, Yarn]) -> list[dict[str, str]]:
        """The yarns to paint with.

        A yarn keeps its place while the chart is open, and one that has gone is still known, so
        that the browser's steps back stay true; it is not offered any more.
        """
        new = yarns_in_browser(yarns)
        known = {
            yarn["letter"]: new.get(yarn["letter"], yarn | {"gone": "yes"}) for yarn in self.yarns
        }
        return list((known | new).values())

    def _send_strands(self) -> None:
        """Send the strands, if they are wanted."""
        if not self.show_strands:
            return
        plan = self._desk.plan
        traced, grid = plan.traced, pictures.strand_grid(plan)
        self.tints = pictures.strand_shades(plan, grid)
        self.strand_labels = list(traced.labels)
        letters = [traced.chart.letters[yarn] for yarn in traced.yarn.tolist()]
        self.strand_yarn = [self.letters.index(letter) for letter in letters]
        by_chart_row = grid[:: traced.how.rows_per_chart_row]
        strand_of = np.where(by_chart_row < 0, NO_STRAND, by_chart_row)
        self.strand_of = strand_of.astype("<u2").tobytes()

    def _asked_for_yarn(self, _: Any, content: dict[str, Any], __: Any) -> None:
        """Put down one yarn more, or say what is wrong with it; the page waits for the answer."""
        if "yarn" not in content:
            return
        try:
            yarn = yarn_typed(self._desk.project, content["yarn"])
            self._desk.change(yarns={**self._desk.project.yarns, yarn.letter: yarn})
            self.send({"added": yarn.letter})
        except PlanError as error:
            self.send({"refused": str(error)})
        except Exception as error:  # the page waits for an answer, whatever it is
            note_trouble(error)
            self.send({"refused": WENT_WRONG.format(type(error).__name__)})

    def _painted(self, _: Any) -> None:
        """Keep what was painted, or say why it cannot be kept and show what holds."""
        if self._showing:
            return  # set here, not by the browser
        with self._desk.lock, self.hold_sync():
            self._keeping = True
            try:
                self._keep(unpack(self.grid, self.letters))
                self.trouble = ""
            except PlanError as error:
                self.trouble = str(error)
            except Exception as error:  # a stroke is always answered
                note_trouble(error)
                self.trouble = WENT_WRONG.format(type(error).__name__)
            finally:
                self._keeping = False
                # Trouble, what holds and the answer go out together: the page offers to do again
                # what was refused.
                self._show_grid()
                self.answered = self.stroke

    def _keep(self, painted: Chart) -> None:
        """Keep the cells that were touched, and no others: the rest may be newer in the folder."""
        if self.painted_in != self.sitting:
            raise PlanError(ANOTHER_PIECE)
        shown = self._desk.project
        # A step back may bring back a yarn that has gone since; its colour is still known here.
        gone = {
            yarn["letter"]: Yarn(yarn["letter"], colour=yarn["colour"])
            for yarn in self.yarns
            if yarn["letter"] in painted.letters and yarn["letter"] not in shown.all_yarns
        }
        touched = np.frombuffer(self.touched, "<u4")
        if not len(touched) or painted.cells.shape != shown.chart.cells.shape:
            self._desk.change(chart=painted, yarns=gone | dict(shown.yarns), doing="painting")
            return

        def put_in(held: Project) -> Project:
            if held.chart.cells.shape != painted.cells.shape:
                raise PlanError(CHANGED_SIZE)
            cells = _letters_of(held.chart)
            cells.flat[touched] = _letters_of(painted).flat[touched]
            chart = Chart.from_rows(cells[::-1].tolist(), source="The painted chart:")
            return replace(held, chart=chart, yarns=gone | dict(held.yarns))

        if put_in(shown) != shown:
            self._desk.act(put_in, doing="painting")

    def __repr__(self) -> str:
        return f"{self._desk.project.chart!r}. {self.headline}"
