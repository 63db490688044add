"""The project: everything the knitter has asked for, as one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path

import numpy as np

from planner.errors import PlanError
from planner.piece.chart import Chart
from planner.piece.construction import Construction
from planner.piece.gauge import Gauge
from planner.piece.limits import CarryLimits
from planner.piece.log import Entry, Measurement
from planner.piece.settings import Allowances, Habits, MultiplierChoice, OwnChoice, Weighing
from planner.piece.yarn import Yarn
from planner.units import LONG_UNIT

# For yarns that are not in yarns.csv, so that a chart alone can be drawn.
NAMELESS_TINTS = (
    *("#d9d2c3", "#7f9db5", "#c98f6b", "#8aa37b"),
    *("#5f6470", "#e3c86f", "#b58db0", "#a8c7c4"),
)


@dataclass(frozen=True)
class Project:
    """A piece and how its knitter works."""

    name: str
    chart: Chart
    yarns: Mapping[str, Yarn] = field(default_factory=dict)
    gauge: Gauge = field(default_factory=Gauge)
    how: Construction = field(default_factory=Construction)
    # A yarn's own limits replace the general ones whole.
    limits: CarryLimits = field(default_factory=CarryLimits)
    by_yarn: Mapping[str, CarryLimits] = field(default_factory=dict)
    allow: Allowances = field(default_factory=Allowances)
    habits: Habits = field(default_factory=Habits)
    weighing: Weighing = field(default_factory=Weighing)
    multiplier: MultiplierChoice = field(default_factory=MultiplierChoice)
    choices: tuple[OwnChoice, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    progress: tuple[Entry, ...] = ()
    units: str = "cm"
    # The folder, beside its own, of the piece that this one is a swatch of; "" for any other.
    swatch_of: str = ""
    # The needle, such as "4 mm", and whatever else the knitter wants to remember.
    needle: str = ""
    notes: str = ""
    # Where it was read from; None for one made in a script.
    folder: Path | None = None

    def __post_init__(self) -> None:
        # A number as the name in piece.toml would only be noticed where it is printed.
        if not isinstance(self.name, str):
            raise PlanError(f"The piece's name is {self.name!r}; put it in quotation marks.")
        if self.units not in LONG_UNIT:
            raise PlanError(f'The units to show are "{self.units}"; they are cm or in.')

    @property
    def all_yarns(self) -> dict[str, Yarn]:
        """The yarns of yarns.csv, and a nameless one for each letter of the chart that it lacks."""
        # Tints go by a letter's place on the chart, so a yarn keeps its tint when others get names.
        tints = zip(self.chart.letters, cycle(NAMELESS_TINTS), strict=False)
        nameless = {letter: Yarn(letter, colour=tint) for letter, tint in tints}
        return nameless | dict(self.yarns)

    def row_totals(self) -> list[int]:
        """Stitches of each worked row of the chart, first row first."""
        totals = (self.chart.cells >= 0).sum(axis=1)
        # In garter a row of the chart is worked twice.
        return [int(total) for total in np.repeat(totals, self.how.rows_per_chart_row)]

    def __repr__(self) -> str:
        how = f"worked {self.how.worked} in {self.how.fabric}"
        return f"{self.name}: {self.chart!r}, {self.gauge.in_words(self.units)}, {how}"
