"""The project folder: read into a Project, and its chart and yarns written back.

chart.csv is all a piece needs. The other files are read where there are any.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields
from pathlib import Path

from planner.colour import hex_of
from planner.errors import PlanError
from planner.folder.files import (
    csv_line,
    number_in,
    read_grid,
    read_table,
    yes_in,
)
from planner.folder.logs import read_choices, read_measurements, read_progress
from planner.folder.settings import read_settings
from planner.folder.transaction import locked_folder
from planner.guards import MOST_WEIGHTS, check_amount
from planner.piece import Chart, Project, Yarn
from planner.units import CM_PER, parse_length

LENGTH_WITH_UNIT = re.compile(r"[\d.,/]+\s*(m|yd)")
YARN_COLUMNS = tuple(field.name for field in fields(Yarn))


def open_project(folder: str | Path) -> Project:
    """The project in a folder: chart.csv, and piece.toml, yarns.csv and the logs where they are.

    All files are read at one moment: nobody changes one of them meanwhile.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise PlanError(
            f"There is no folder {folder}. Name the folder that holds piece.toml and chart.csv."
        )
    with locked_folder(folder):
        return _read_folder(folder)


def _read_folder(folder: Path) -> Project:
    settings_path = folder / "piece.toml"
    chart_path = folder / "chart.csv"
    if not chart_path.exists() and not settings_path.exists():
        raise PlanError(
            f"There is neither chart.csv nor piece.toml in {folder}. Put your chart there, saved "
            "as chart.csv."
        )
    settings = read_settings(settings_path) if settings_path.exists() else {}
    # A chart alone is a piece already, and is called what its folder is called.
    name = settings.pop("name", folder.name)
    return Project(
        name=name,
        chart=read_chart(chart_path),
        yarns=read_yarns(folder / "yarns.csv"),
        choices=read_choices(folder / "choices.csv"),
        measurements=read_measurements(folder),
        progress=read_progress(folder),
        folder=folder,
        **settings,
    )


def read_chart(path: str | Path) -> Chart:
    """The chart in a CSV file, top row first.

    A file without any separator holds one letter a stitch.
    """
    path = Path(path)
    grid = read_grid(path)
    if not grid:
        raise PlanError(
            f"{path.name} is empty. Put the chart in, top row first, one yarn letter in each cell."
        )
    rows = list(grid.values())
    # A cell with a blank is no row of letters, but a mistake to be told of.
    one_cell_a_row = all(len(row) == 1 and " " not in row[0] for row in rows)
    if one_cell_a_row and any(len(row[0]) > 1 for row in rows):
        rows = [list(row[0]) for row in rows]
    # An empty last column is a habit of spreadsheets.
    empty = min(map(_empty_at_end, rows))
    rows = [row[: len(row) - empty] for row in rows]
    return Chart.from_rows(rows, source=path.name, lines=list(grid))


def _empty_at_end(row: list[str]) -> int:
    """How many cells at the end of a row, the first left out, hold nothing."""
    held = [place for place, cell in enumerate(row) if cell]
    last = max(held, default=0)
    return len(row) - 1 - last


def chart_csv(chart: Chart) -> str:
    """The chart as `read_chart` reads it."""
    rows = chart.to_rows()
    if chart.columns == 1:
        # Without a second, empty column a yarn "AB" would be read as two stitches.
        rows = [[*row, ""] for row in rows]
    return "".join(csv_line(row) for row in rows)


def read_yarns(path: Path) -> dict[str, Yarn]:
    """The yarns of yarns.csv by letter; none if there is no such file."""
    if not path.exists():
        return {}
    yarns: dict[str, Yarn] = {}
    for line, row in read_table(path, YARN_COLUMNS, needed=("letter",)).items():
        letter = row["letter"]
        # Told by what else stands in the line, since it has no letter to tell it by.
        if not letter:
            content = ", ".join(filter(None, row.values()))
            raise PlanError(
                f"{path.name} line {line} has a yarn without a letter: {content}. Put the letter "
                "that stands for it on the chart into that line, below letter."
            )
        if letter in yarns:
            raise PlanError(
                f"{path.name} lists the letter {letter} twice. Give each yarn a letter of its own."
            )
        yarns[letter] = _yarn_in(row, path.name)
    return yarns


def _yarn_in(row: Mapping[str, str], file: str) -> Yarn:
    """The yarn in a line of yarns.csv; a column that is not there is as an empty cell."""
    what = f"{file}, yarn {row['letter']}: "

    def number(column: str) -> float | None:
        return number_in(row.get(column, ""), what + column)

    def yes(column: str, default: bool) -> bool:
        return yes_in(row.get(column, ""), default, what + column)

    colour = row.get("colour") or Yarn.colour
    # Names of colours become #rrggbb here, so that all the rest need know one form only.
    try:
        colour = hex_of(colour)
    except ValueError:
        raise PlanError(
            f'{what}the colour is "{colour}"; write it as #rrggbb, such as #1f3a5f, or as a web '
            "colour name."
        ) from None
    # A band may give yards: "109 yd" is read as metres, and the cell keeps its words.
    band = row.get("metres_per_ball", "").strip()
    if LENGTH_WITH_UNIT.fullmatch(band):
        metres: float | None = float(parse_length(band, what + "metres_per_ball") / CM_PER["m"])
    else:
        metres = number("metres_per_ball")
    return Yarn(
        letter=row["letter"],
        name=row.get("name", ""),
        colour=colour,
        metres_per_ball=metres,
        grams_per_ball=number("grams_per_ball"),
        balls_in_hand=number("balls_in_hand") or 0,
        feltable=yes("feltable", False),
        may_be_cut=yes("may_be_cut", True),
        dye_lot=row.get("dye_lot", ""),
        label_stitches_10cm=number("label_stitches_10cm"),
        superwash=yes("superwash", False),
        surface=row.get("surface", "").lower() or Yarn.surface,
        part_balls_g=weights_in(row.get("part_balls_g", ""), f"{what}a part ball"),
    )


def weights_in(text: str, what: str) -> tuple[float, ...]:
    """The weights, g, in a cell such as "34; 12.5"; `what` names one of them in the error."""
    # A comma may be a slip for a decimal point, so it does not part two weights.
    weights = text.split(";")
    check_amount(len(weights), what, most=MOST_WEIGHTS, what="weights")
    numbers = (number_in(weight.strip().removesuffix("g"), what) for weight in weights)
    return tuple(number for number in numbers if number is not None)


def weights_text(weights: Iterable[float]) -> str:
    """Weights as a cell of yarns.csv has them: "34; 12.5"."""
    return "; ".join(f"{weight:.10g}" for weight in weights)


def yarns_csv(path: Path, project: Project, kept: Project) -> str:
    """The text of yarns.csv with the yarns that are new or have changed since `kept`.

    The other lines keep their words; yarns that are gone lose theirs.
    """
    lines: dict[str, dict[str, str]] = {}
    if path.exists():
        for row in read_table(path, YARN_COLUMNS).values():
            lines[row["letter"]] = row
    for letter in set(kept.yarns) - set(project.yarns):
        lines.pop(letter, None)
    # What is unchanged keeps its words: "navy" stays, though it was read as #000080, and the
    # "109 yd" of a band.
    for letter, yarn in project.yarns.items():
        before = asdict(kept.yarns[letter]) if letter in kept.yarns else {}
        line = lines.setdefault(letter, {})
        # A line that is not there is written whole.
        is_new = not line or not before
        for name, value in asdict(yarn).items():
            if is_new or before[name] != value:
                line[name] = _as_text(value)
    text = csv_line(YARN_COLUMNS)
    for row in lines.values():
        text += csv_line(row.get(name, "") for name in YARN_COLUMNS)
    return text


def _as_text(value: object) -> str:
    """A field of a yarn as its cell in yarns.csv."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return weights_text(value)
    # Without the zeros, or the last wrong digits, of a float.
    return f"{value:.10g}" if isinstance(value, int | float) else str(value)
