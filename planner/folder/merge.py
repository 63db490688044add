"""Merge: what was touched here, put into what the folder holds by now.

Two notebooks may change one piece in turn. Each knows what it showed before it was touched; so of
its change only the fields, yarns, choices and cells that it touched are taken, and all the rest
stays as the folder has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from planner.errors import PlanError
from planner.piece import Chart, Gauge, OwnChoice, Project, Yarn

# These only grow, and a line takes its number from the folder; so they are never merged.
LOGS = ("measurements", "progress")
NOT_ASKED = ("folder", *LOGS)


def merged(before: Project, touched: Project, held: Project) -> Project:
    """The piece that the folder holds, with what was touched between `before` and `touched`.

    Raises PlanError if the chart was changed in both, and its size in one of them.
    """
    changes = {}
    for field in fields(Project):
        was, now = getattr(before, field.name), getattr(touched, field.name)
        if field.name in NOT_ASKED or now is was or now == was:
            continue
        changes[field.name] = _merged_value(was, now, getattr(held, field.name))
    return replace(held, **changes)


def _merged_value(was: Any, now: Any, held: Any) -> Any:
    """What is held, with what was touched of it; both may be a value of any kind."""
    if held == was:
        return now
    if isinstance(now, Chart):
        return _merged_chart(was, now, held)
    if isinstance(now, Mapping):
        return _merged_mapping(was, now, held)
    if isinstance(now, tuple):
        return _merged_choices(was, now, held)
    # What is counted over another length is another count.
    if isinstance(now, Gauge) and len({(gauge.over, gauge.unit) for gauge in (was, now, held)}) > 1:
        return now
    if is_dataclass(now):
        names = [field.name for field in fields(now)]
        touched = {n: getattr(now, n) for n in names if getattr(now, n) != getattr(was, n)}
        return replace(held, **touched)
    # A word, or a number: touched as a whole.
    return now


def _merged_mapping(was: Mapping[str, Any], now: Mapping[str, Any], held: Mapping[str, Any]) -> Any:
    result = {name: value for name, value in held.items() if name in now or name not in was}
    for name, value in now.items():
        before = was.get(name)
        # Of a yarn that both have put down what either knows of it is touched.
        if before is None and isinstance(value, Yarn):
            before = Yarn(name)
        if value == was.get(name):
            continue
        both = before is not None and name in held
        result[name] = _merged_value(before, value, held[name]) if both else value
    return result


def _merged_choices(
    was: tuple[OwnChoice, ...], now: tuple[OwnChoice, ...], held: tuple[OwnChoice, ...]
) -> tuple[OwnChoice, ...]:
    """The choices held, without those taken back and with those made."""
    taken_back = [choice for choice in was if choice not in now]
    made = [choice for choice in now if choice not in was]
    places = {replace(choice, choice="") for choice in (*taken_back, *made)}
    stay = [choice for choice in held if replace(choice, choice="") not in places]
    return (*stay, *made)


def _merged_chart(was: Chart, now: Chart, held: Chart) -> Chart:
    """The chart held, with the cells that were touched."""
    shapes = {(chart.rows, chart.columns) for chart in (was, now, held)}
    if len(shapes) > 1:
        raise PlanError(
            f"The chart has meanwhile been changed elsewhere; it has {held.columns} stitches × "
            f"{held.rows} rows and is shown now. Do what you were about to do once more."
        )
    letters = sorted({*was.letters, *now.letters, *held.letters})
    was_in, now_in, held_in = (_among(chart, letters) for chart in (was, now, held))
    cells = np.where(now_in != was_in, now_in, held_in)
    return Chart.from_cells(cells, letters, source="The chart:")


def _among(chart: Chart, letters: list[str]) -> np.ndarray:
    """The cells of a chart, each yarn by its place among the letters; −1 for no stitch."""
    # No stitch is −1, which takes the last of these.
    place = np.array([*(letters.index(letter) for letter in chart.letters), -1])
    places: np.ndarray = place[chart.cells]
    return places
