"""A chart that travels in the picture of it, so that it comes back exactly.

A picture shows colours and no letters, and white where there is no stitch. So a picture that is
written here carries the chart as text as well (an iTXt chunk: PNG specification, third edition,
11.3.3.4, from memory). It is used only where the cells agree with it: whoever paints in the picture
means what is painted.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from planner.charts.lettering import free_letter
from planner.charts.palette import Mask, Rgb, delta_e, from_hex, lab_of, nearest_rgb, to_hex
from planner.charts.picture import Artwork
from planner.errors import PlanError
from planner.piece import LETTER, NO_STITCH, Chart
from planner.units import counted

AS_DRAWN = 6.0  # ΔE*ab: nearer than this a cell has the colour that was drawn
SAME_YARN = 10.0
MOST_PAINTED = 0.5  # of all cells; beyond that it is another picture
WHITE = "#ffffff"


@dataclass(frozen=True, eq=False)
class CarriedChart:
    """A chart that came in a picture: `colours` (#rrggbb) and `names` by letter, and `notes`.

    `painted` are the cells that were painted over since, rows × columns, row 0 the bottom row.
    """

    chart: Chart
    colours: Mapping[str, str]
    notes: tuple[str, ...]
    painted: Mask = field(default_factory=lambda: np.zeros((0, 0), bool))
    names: Mapping[str, str] = field(default_factory=dict)


def as_text(chart: Chart, colours: Mapping[str, str], names: Mapping[str, str]) -> str:
    """The chart as text: rows from the top, letters with spaces between them; colours, names."""
    rows = [" ".join(row) for row in chart.to_rows()]
    listed = {letter: colours[letter] for letter in chart.letters}
    named = {letter: names[letter] for letter in chart.letters if names.get(letter)}
    return json.dumps({"rows": rows, "colours": listed, "names": named})


def _from_text(text: str) -> tuple[Chart, dict[str, str], dict[str, str]] | None:
    """The chart, its colours and names in such a text; None where it is none."""
    try:
        held: Any = json.loads(text)
        rows = [row.split(" ") for row in held["rows"]]
        colours = {str(letter): str(colour) for letter, colour in held["colours"].items()}
        # Pictures from before have none.
        names = {str(letter): str(name) for letter, name in held.get("names", {}).items()}
        chart = Chart.from_rows(rows)
        from_hex(list(colours.values()))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError, PlanError):
        return None
    is_whole = set(chart.letters) == set(colours)
    is_sound = is_whole and all(map(LETTER.fullmatch, colours))
    return (chart, colours, names) if is_sound else None


def carried_chart(art: Artwork) -> CarriedChart | None:
    """The chart that a picture carries, with what was painted over it since.

    None where it carries none, or where the picture has become another one.
    """
    held = _from_text(art.carries) if art.carries else None
    if held is None:
        return None
    chart, colours, names = held
    drawn = _drawn(art.pixels, chart)
    if drawn is None:
        return None
    meant = from_hex([*(colours[letter] for letter in chart.letters), WHITE])[chart.cells]
    painted = delta_e(lab_of(drawn), lab_of(meant)) > AS_DRAWN
    if painted.mean() > MOST_PAINTED:
        return None
    if not painted.any():
        note = "the picture carries its chart, and every stitch agrees with it"
        return CarriedChart(chart, colours, (*art.notes, note), painted, names)
    changed, more = _repainted(chart, colours, drawn, painted)
    cells = counted(int(painted.sum()), "stitch")
    note = f"the picture carries its chart, but {cells} were painted over since; that counts"
    kept = {letter: colour for letter, colour in more.items() if letter in changed.letters}
    return CarriedChart(changed, kept, (*art.notes, note), painted, names)


def _drawn(pixels: Rgb, chart: Chart) -> Rgb | None:
    """The colour in the middle of each cell, bottom row first; None where there are too few."""
    height, width = pixels.shape[:2]
    if height < chart.rows or width < chart.columns:
        return None
    y = ((np.arange(chart.rows) + 0.5) * height / chart.rows).astype(int)
    x = ((np.arange(chart.columns) + 0.5) * width / chart.columns).astype(int)
    return pixels[np.ix_(y, x)][::-1]


def _repainted(
    chart: Chart, colours: Mapping[str, str], drawn: Rgb, painted: Mask
) -> tuple[Chart, dict[str, str]]:
    """The chart with the cells that were painted, each in the yarn it looks like or a new one."""
    letters = chart.letters
    known = dict(colours)
    rows = np.array([*letters, NO_STITCH], dtype=object)[chart.cells]
    new = drawn[painted]
    place, distance = nearest_rgb(new, from_hex([colours[letter] for letter in letters]))
    names = np.array(letters, dtype=object)[place]
    for colour in np.unique(new[distance > SAME_YARN], axis=0):
        letter = free_letter(known)
        (known[letter],) = to_hex(colour[None])
        names[(new == colour).all(axis=1) & (distance > SAME_YARN)] = letter
    rows[painted] = names
    return Chart.from_rows(rows[::-1].tolist(), source="The picture's chart"), known
