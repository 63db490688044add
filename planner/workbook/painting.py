"""The chart as a thing to paint on: a widget that draws and paints in the browser, and tells the desk of every stroke.

What the browser does stands in painting.mjs. Shape and cells travel together as bytes: two for rows, two for columns, then
a byte a cell, bottom row first; the byte is the yarn's place in `yarns`, 255 no stitch.
"""

from __future__ import annotations

from pathlib import Path

import anywidget
import numpy as np
import traitlets

from planner.colour import ink_on
from planner.errors import PlanError
from planner.pictures import draw_chart, strand_grid, strand_tints
from planner.piece import Chart, Yarn, rows_worked
from planner.units import counted, show
from planner.workbook.desk import Desk, picture_png

NO_STITCH_BYTE, MOST_YARNS = 255, 250
NO_STRAND = np.iinfo(np.uint16).max


def pack(chart: Chart, letters: list[str]) -> bytes:
    """A chart as the browser holds it, its yarns counted by their place among `letters`."""
    place = np.array(
        [*(letters.index(letter) for letter in chart.letters), NO_STITCH_BYTE]
    )  # index −1 is the last
    return (
        chart.rows.to_bytes(2)
        + chart.columns.to_bytes(2)
        + place[chart.cells].astype(np.uint8).tobytes()
    )


def unpack(grid: bytes, letters: list[str]) -> Chart:
    """The chart that the browser holds."""
    shape = int.from_bytes(grid[:2]), int.from_bytes(grid[2:4])
    cells = np.frombuffer(grid, np.uint8, offset=4).astype(np.int16).reshape(shape)
    return Chart.from_cells(
        np.where(cells == NO_STITCH_BYTE, -1, cells), letters, source="The painted chart:"
    )


class Painting(anywidget.AnyWidget):
    """The chart on the desk, to paint on. A stroke is planned at once; what cannot be planned is said, and stays painted."""

    _esm = Path(__file__).with_name("painting.mjs")
    grid = traitlets.CBytes().tag(sync=True)
    yarns = traitlets.List().tag(sync=True)
    aspect = traitlets.Float(1.0).tag(sync=True)  # height of a chart row ÷ width of a stitch
    begins_right = traitlets.List([True, False]).tag(
        sync=True
    )  # for rows 1, 3, 5 … and for rows 2, 4, 6 …
    worked = traitlets.Int(0).tag(sync=True)  # chart rows that are knitted and stay as they are
    stroke = traitlets.Int(0).tag(sync=True)  # strokes painted
    answered = traitlets.Int(0).tag(sync=True)  # of these, how many are planned
    headline = traitlets.Unicode().tag(sync=True)
    trouble = traitlets.Unicode().tag(sync=True)
    kept = traitlets.Bool(True).tag(sync=True)
    show_strands = traitlets.Bool(False).tag(sync=True)
    strand_of = traitlets.Bytes().tag(sync=True)  # two bytes a cell, in the order of `grid`
    strand_yarn = traitlets.List().tag(sync=True)
    strand_labels = traitlets.List().tag(sync=True)
    tints = traitlets.List().tag(sync=True)

    def __init__(self, desk: Desk):
        super().__init__()
        self._desk = desk
        self._follow()
        self.observe(self._painted, names="grid")
        self.observe(lambda _: self._strands(), names="show_strands")
        self.on_msg(self._told)
        desk.on_change(self._follow)

    @property
    def letters(self) -> list[str]:
        return [yarn["letter"] for yarn in self.yarns]

    def _follow(self):
        """Show what is on the desk now."""
        project, how = self._desk.project, self._desk.project.how
        yarns = project.all_yarns
        if len(yarns) > MOST_YARNS:
            raise PlanError(
                f"The chart has {len(yarns)} yarns; one to paint on has at most {MOST_YARNS}."
            )
        times = how.rows_per_chart_row
        done = rows_worked(project.progress)
        with self.hold_sync(), self.hold_trait_notifications():
            new = [
                {"letter": y.letter, "title": y.title, "colour": y.colour, "ink": ink_on(y.colour)}
                for y in yarns.values()
            ]
            # A yarn keeps its place while the chart is open, so that the browser's steps back stay true.
            known = [old for old in self.letters if old not in yarns]
            order = {letter: i for i, letter in enumerate(self.letters)}
            new += [yarn for yarn in self.yarns if yarn["letter"] in known]
            self.yarns = sorted(new, key=lambda yarn: order.get(yarn["letter"], len(order)))
            self.aspect = float(project.gauge.aspect) * times
            self.begins_right = [how.runs_leftwards(0), how.runs_leftwards(times)]
            self.worked = -(-done // times)
            self.kept = not self._desk.unsaved
            self.headline = headline(self._desk.plan)
            self.answered = self.stroke  # at once, before tables and pictures are drawn
            grid = pack(project.chart, self.letters)
            if grid != self.grid and not self.trouble:
                self.grid = grid
            self._strands()

    def _strands(self):
        """Send the strands, if they are wanted."""
        if not self.show_strands:
            return
        plan = self._desk.plan
        grid = strand_grid(plan)
        self.tints = strand_tints(grid, plan.traced.count)
        self.strand_labels = list(plan.traced.labels)
        self.strand_yarn = [
            self.letters.index(plan.traced.chart.letters[y]) for y in plan.traced.yarn.tolist()
        ]
        by_chart_row = grid[:: plan.traced.how.rows_per_chart_row]
        self.strand_of = np.where(by_chart_row < 0, NO_STRAND, by_chart_row).astype("<u2").tobytes()

    def _painted(self, _):
        """Plan what was painted, or say why it cannot be planned."""
        desk = self._desk
        with desk.lock:
            try:
                chart = unpack(self.grid, self.letters)
                self.trouble = ""
                if chart != desk.project.chart:
                    # A step back may bring back a yarn that has gone since; its colour is still known here.
                    gone = {y["letter"]: Yarn(y["letter"], colour=y["colour"]) for y in self.yarns}
                    gone = {
                        y: yarn
                        for y, yarn in gone.items()
                        if y in chart.letters and y not in desk.project.all_yarns
                    }
                    desk.change(chart=chart, yarns=gone | dict(desk.project.yarns))
            except PlanError as error:
                self.trouble, self.kept = str(error), False
            finally:
                self.answered = self.stroke

    def _told(self, _, message, __):
        if message.get("do") == "keep":
            try:
                if self.trouble:
                    raise PlanError(self.trouble)
                self._desk.keep()
            except PlanError as error:
                self.trouble = str(error)

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
        return data | {
            "text/plain": repr(self),
            "image/png": picture_png(draw_chart(self._desk.plan)),
        }

    def __repr__(self):
        return f"{self._desk.project.chart!r}. {self.headline}"


def headline(plan) -> str:
    """What the plan comes to, in a line."""
    peak, yarn = plan.rows.loc[plan.rows.live.idxmax()], show(plan.yarn_cm, plan.project.units)
    return (
        f"{counted(plan.traced.count, 'strand')} · {plan.ends_in_all} ends · "
        f"at most {int(peak.live)} strands at once ({peak.load}) · {yarn} of yarn to wind"
    )
