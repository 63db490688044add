"""The project: everything the knitter has asked for, as one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path

import numpy as np

from planner.calibration import Calibration
from planner.chart import Chart
from planner.construction import Construction
from planner.errors import PlanError
from planner.gauge import Gauge
from planner.knitted import Knitted
from planner.lengths import Allowances
from planner.limits import CarryLimits
from planner.measurements import Measurement, evidence_of
from planner.multiplier import Multiplier
from planner.progress import Entry, notes_by_row, rows_worked
from planner.supplies import Habits
from planner.units import LONG_UNIT, check_number
from planner.weighing import Weighing
from planner.yarn import Yarn

NAMELESS_TINTS = (
    "#d9d2c3",
    "#7f9db5",
    "#c98f6b",
    "#8aa37b",
    "#5f6470",
    "#e3c86f",
    "#b58db0",
    "#a8c7c4",
)  # for yarns not in yarns.csv
WAYS_TO_A_MULTIPLIER = ("estimate", "measured", "own", "rule of three")


@dataclass(frozen=True)
class MultiplierChoice:
    """Where the multiplier comes from: the estimate before any swatch, what was measured, the knitter's own figure (with or
    without a spread), the plain rule."""

    way: str = "estimate"
    value: float | None = None
    spread: float | None = None

    def __post_init__(self):
        if self.way not in WAYS_TO_A_MULTIPLIER:
            raise PlanError(f'The multiplier is by "{self.way}"; it is one of {", ".join(WAYS_TO_A_MULTIPLIER)}.')
        if self.way == "own" and self.value is None:
            raise PlanError("Your own multiplier is wanted but its value is missing. Give the yarn in a row ÷ the row's width.")
        if self.spread is not None:
            check_number(self.spread, "The spread of your own multiplier")
        self.multiplier()

    def multiplier(self) -> Multiplier:
        if self.way == "own":
            return Multiplier.own(self.value, self.spread)
        return Multiplier.rule_of_three() if self.way == "rule of three" else Multiplier()


@dataclass(frozen=True)
class OwnChoice:
    """Something decided by hand about a yarn at a worked row and stitch (both from 1, the stitch from the right); what may
    be decided, and what each place stands for, is told in choices.py."""

    about: str
    yarn: str
    row: int
    stitch: int
    part: str
    choice: str


@dataclass(frozen=True)
class Project:
    """A piece and how its knitter works. `folder` is where it was read from, None for one made in a script."""

    name: str
    chart: Chart
    yarns: Mapping[str, Yarn] = field(default_factory=dict)
    gauge: Gauge = field(default_factory=Gauge)
    how: Construction = field(default_factory=Construction)
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
    folder: Path | None = None

    def __post_init__(self):
        if not isinstance(self.name, str):
            raise PlanError(f"The piece's name is {self.name!r}; put it in quotation marks.")
        if self.units not in LONG_UNIT:
            raise PlanError(f'The units to show are "{self.units}"; they are cm or in.')

    @property
    def all_yarns(self) -> dict[str, Yarn]:
        """The yarns of yarns.csv, and a nameless one for each letter of the chart that it lacks."""
        tints = dict(zip(self.chart.letters, cycle(NAMELESS_TINTS), strict=False))
        return {letter: Yarn(letter, colour=tints[letter]) for letter in self.chart.letters} | dict(self.yarns)

    def multipliers(self) -> dict[str, Multiplier]:
        """The multiplier of each yarn on the chart."""
        if self.multiplier.way in ("estimate", "measured"):
            calibration = self.calibration() if self.multiplier.way == "measured" else Calibration([], self.chart.letters)
            return {letter: calibration.multiplier(letter, self.how.fabric) for letter in self.chart.letters}
        return {letter: self.multiplier.multiplier() for letter in self.chart.letters}

    def row_totals(self) -> list[int]:
        """Stitches of each worked row of the chart, first row first."""
        return np.repeat((self.chart.cells >= 0).sum(axis=1), self.how.rows_per_chart_row).tolist()

    def knitted(self) -> Knitted | None:
        """What is knitted already, as the progress log has it."""
        rows_worked(self.progress, self.row_totals())
        return Knitted.from_notes(notes_by_row(self.progress))

    def calibration(self) -> Calibration:
        """What the measurements say of the multipliers, whether the plan goes by them or not."""
        return Calibration(evidence_of(self.measurements), self.chart.letters)

    def __repr__(self):
        return f"{self.name}: {self.chart!r}, {self.gauge}, worked {self.how.worked} in {self.how.fabric}"
