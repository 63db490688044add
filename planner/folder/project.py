"""The project folder: plain files that a spreadsheet and git both like, read into a Project and written back."""

from __future__ import annotations

import re
import tomllib
from dataclasses import asdict, fields, replace
from datetime import date
from pathlib import Path

import tomlkit
from coloraide import Color

from planner.errors import PlanError
from planner.folder.files import (
    append_row,
    csv_line,
    locked,
    read_grid,
    read_table,
    read_text,
    replace_text,
)
from planner.multiplier import evidence_in
from planner.piece import (
    UNDONE,
    WORKED,
    Allowances,
    CarryLimits,
    Chart,
    Construction,
    Entry,
    Gauge,
    Habits,
    Measurement,
    MultiplierChoice,
    OwnChoice,
    Project,
    Weighing,
    Yarn,
    check_mark,
    rows_worked,
)
from planner.units import exact

FORMAT = 1
SECTIONS = {
    "gauge": ("gauge", Gauge),
    "construction": ("how", Construction),
    "limits": ("limits", CarryLimits),
    "allowances": ("allow", Allowances),
    "habits": ("habits", Habits),
    "weighing": ("weighing", Weighing),
    "multiplier": ("multiplier", MultiplierChoice),
}
YARN_COLUMNS = tuple(field.name for field in fields(Yarn))
CHOICE_COLUMNS = ("date", "about", "yarn", "row", "stitch", "part", "choice", "strand_then")
PROGRESS_NEED = ("number", "date", "what", "row")
MEASUREMENTS_NEED = ("number", "date", "way", "yarn", "gauge_stitches")
CHOICES_NEED = ("about", "yarn", "row", "stitch", "choice")
YES, NO = ("yes", "true", "y", "1"), ("no", "false", "n", "0")


def open_project(folder: str | Path) -> Project:
    """The project in a folder: chart.csv, and piece.toml, yarns.csv and the logs where there are any."""
    folder = Path(folder)
    if not folder.is_dir():
        raise PlanError(
            f"There is no folder {folder}. Name the folder that holds piece.toml and chart.csv."
        )
    if not (folder / "chart.csv").exists() and not (folder / "piece.toml").exists():
        raise PlanError(
            f"There is neither chart.csv nor piece.toml in {folder}. Put your chart there, saved as chart.csv."
        )
    settings = read_settings(folder / "piece.toml") if (folder / "piece.toml").exists() else {}
    return Project(
        name=settings.pop("name", folder.name),
        chart=read_chart(folder / "chart.csv"),
        yarns=read_yarns(folder / "yarns.csv"),
        choices=read_choices(folder / "choices.csv"),
        measurements=read_measurements(folder),
        progress=read_progress(folder),
        folder=folder,
        **settings,
    )


def read_chart(path: str | Path) -> Chart:
    """The chart in a CSV file, top row first; a file without any separator holds one letter a stitch."""
    path = Path(path)
    grid = read_grid(path)
    if not grid:
        raise PlanError(
            f"{path.name} is empty. Put the chart in, top row first, one yarn letter in each cell."
        )
    lines, rows = list(grid), list(grid.values())
    if all(len(row) == 1 and " " not in row[0] for row in rows) and any(
        len(row[0]) > 1 for row in rows
    ):
        rows = [list(row[0]) for row in rows]
    while all(len(row) > 1 for row in rows) and not any(row[-1] for row in rows):
        rows = [row[:-1] for row in rows]  # an empty last column is a habit of spreadsheets
    return Chart.from_rows(rows, source=path.name, lines=lines)


def chart_csv(chart: Chart) -> str:
    """The chart as `read_chart` reads it; one that is a stitch wide with an empty second column, or "AB" would be two stitches."""
    return "".join(csv_line(row if len(row) > 1 else [*row, ""]) for row in chart.to_rows())


def _number(text: str, what: str) -> float | None:
    if not text:
        return None
    try:
        return float(exact(text, what))
    except OverflowError:
        raise PlanError(f"{what} is {text}, which is too large to be meant.") from None


def _yes(text: str, default: bool, what: str) -> bool:
    if text.lower() in YES or (not text and default):
        return True
    if text.lower() in NO or not text:
        return False
    raise PlanError(f'{what} is "{text}"; write yes or no.')


def read_yarns(path: Path) -> dict[str, Yarn]:
    """The yarns of yarns.csv by letter; none if there is no such file."""
    if not path.exists():
        return {}
    yarns: dict[str, Yarn] = {}
    for row in read_table(path, YARN_COLUMNS, needed=("letter",)).values():
        letter = row["letter"]
        what = f"{path.name}, yarn {letter}: "
        if not letter:
            raise PlanError(
                f"{path.name} has a yarn without a letter: {', '.join(filter(None, row.values()))}. Give it the chart's letter."
            )
        if letter in yarns:
            raise PlanError(
                f"{path.name} lists the letter {letter} twice. Give each yarn a letter of its own."
            )
        colour = row.get("colour") or Yarn.colour
        try:
            colour = Color(colour).convert("srgb").to_string(hex=True, alpha=False)
        except ValueError:
            raise PlanError(
                f'{what}the colour is "{colour}"; write it as #rrggbb, such as #1f3a5f, or as a web colour name.'
            ) from None
        yarns[letter] = Yarn(
            letter=letter,
            name=row.get("name", ""),
            colour=colour,
            metres_per_ball=_number(row.get("metres_per_ball", ""), what + "metres_per_ball"),
            grams_per_ball=_number(row.get("grams_per_ball", ""), what + "grams_per_ball"),
            balls_in_hand=_number(row.get("balls_in_hand", ""), what + "balls_in_hand") or 0,
            feltable=_yes(row.get("feltable", ""), False, what + "feltable"),
            may_be_cut=_yes(row.get("may_be_cut", ""), True, what + "may_be_cut"),
            dye_lot=row.get("dye_lot", ""),
            label_stitches_10cm=_number(
                row.get("label_stitches_10cm", ""), what + "label_stitches_10cm"
            ),
        )
    return yarns


def _section(kind, values, where: str):
    """A settings dataclass from a table of piece.toml; what each value is worth, the dataclass checks itself."""
    known = {field.name: field.default for field in fields(kind)}
    if not isinstance(values, dict):
        raise PlanError(
            f"piece.toml, {where} is {values!r}; a part with {', '.join(known)} was expected."
        )
    for name, value in values.items():
        if name not in known:
            raise PlanError(
                f'piece.toml, {where}: "{name}" means nothing here. Use: {", ".join(known)}.'
            )
        default = known[name]
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if isinstance(default, bool | str):
            fits = type(value) is type(default)
        else:  # a number; a carry limit may be a length in words
            fits = number or (kind is CarryLimits and isinstance(value, str))
        if not fits:
            example = 3.7 if default is None else default
            raise PlanError(
                f"piece.toml, {where}: {name} is {value!r}; something like {example!r} was expected."
            )
    return kind(**values)


def read_settings(path: Path) -> dict:
    """The settings of piece.toml as arguments of Project; what it does not say keeps its default."""
    try:
        document = tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise PlanError(
            f"{path.name} cannot be read: {error}. Text needs quotation marks, numbers a decimal point."
        ) from None
    if document.pop("format", FORMAT) != FORMAT:
        raise PlanError(
            f"{path.name} is in a format this planner does not know; it reads format {FORMAT}."
        )
    out: dict = {name: document.pop(name) for name in ("name", "units") if name in document}
    for name, value in out.items():
        if not isinstance(value, str):
            raise PlanError(f"{path.name}: {name} is {value!r}; put it in quotation marks.")
    limits = document.get("limits", {})
    by_yarn = limits.pop("by_yarn", {}) if isinstance(limits, dict) else {}
    if not isinstance(by_yarn, dict):
        raise PlanError(
            f"{path.name}: by_yarn is {by_yarn!r}; write [limits.by_yarn.A] and below it the limits of yarn A."
        )
    out["by_yarn"] = {
        letter: _section(CarryLimits, values, f"limits of yarn {letter}")
        for letter, values in by_yarn.items()
    }
    for section, values in document.items():
        if section not in SECTIONS or not isinstance(values, dict):
            raise PlanError(
                f'{path.name}: "{section}" means nothing here. Its parts are: name, units, {", ".join(SECTIONS)}.'
            )
        name, kind = SECTIONS[section]
        out[name] = _section(kind, values, section)
    return out


def save_settings(project: Project, *, kept: Project | None = None) -> Path:
    """Write the project's settings into its piece.toml, leaving the knitter's own comments where they are.

    With `kept`, the project as it was read, only what has changed since is written: what another notebook has kept
    meanwhile stays.
    """
    if project.folder is None:
        raise PlanError(
            "This project has no folder to keep its settings in. Open one with open_project."
        )
    path = project.folder / "piece.toml"
    with locked(path):
        document = tomlkit.parse(read_text(path)) if path.exists() else tomlkit.document()
        document["format"] = FORMAT
        for name in ("name", "units"):
            if kept is None or getattr(project, name) != getattr(kept, name):
                document[name] = getattr(project, name)
        for section, (name, _) in SECTIONS.items():
            now = asdict(getattr(project, name))
            before = {} if kept is None else asdict(getattr(kept, name))
            _update(
                _table(document, section),
                {k: v for k, v in now.items() if k not in before or v != before[k]},
            )
        limits = document["limits"]
        if (project.by_yarn or "by_yarn" in limits) and (
            kept is None or project.by_yarn != kept.by_yarn
        ):
            by_yarn = _table(limits, "by_yarn")
            for letter in set(by_yarn) - set(project.by_yarn):
                del by_yarn[letter]
            for letter, own in project.by_yarn.items():
                _update(_table(by_yarn, letter), asdict(own))
        replace_text(path, tomlkit.dumps(document))
    return path


def save_chart(project: Project, *, kept: Project):
    """Write the project's chart into its chart.csv, unless that is not the one any more that `kept` was read from."""
    path = project.folder / "chart.csv"
    with locked(path):
        if path.exists() and read_chart(path) != kept.chart:
            raise PlanError(
                "chart.csv has been changed by somebody else since this notebook read it, so it is left as it is. Write your "
                "chart out under another name, then run the notebook again to see what stands in chart.csv now."
            )
        replace_text(path, chart_csv(project.chart))


def save_yarns(project: Project, *, kept: Project):
    """Write the yarns that are new or have changed since `kept` into yarns.csv; the other lines keep their words."""
    path = project.folder / "yarns.csv"
    with locked(path):
        lines = (
            {row["letter"]: row for row in read_table(path, YARN_COLUMNS).values()}
            if path.exists()
            else {}
        )
        for letter, yarn in project.yarns.items():
            if letter not in lines or yarn != kept.yarns.get(letter):
                lines[letter] = {name: _as_text(value) for name, value in asdict(yarn).items()}
        table = [
            YARN_COLUMNS,
            *([row.get(name, "") for name in YARN_COLUMNS] for row in lines.values()),
        ]
        replace_text(path, "".join(map(csv_line, table)))


def _as_text(value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return (
        "" if value is None else f"{value:.10g}" if isinstance(value, int | float) else str(value)
    )


def _table(parent, name: str):
    """A table of the document that may hold others; a table in one line cannot, and is written out."""
    table = parent.get(name)
    if table is None or isinstance(table, tomlkit.items.InlineTable):
        parent[name] = tomlkit.table()
        _update(parent[name], {} if table is None else table.unwrap())
    return parent[name]


def _update(table, values: dict):
    """Change what has changed, so that comments beside the rest stay."""
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif key not in table or table[key] != value:
            table[key] = value


def _cell(field_type: str, text: str, what: str):
    """One cell of a log, as the field it stands for."""
    if field_type == "str":
        return text
    number = _number(text, what)
    if number is not None and field_type.startswith("int"):
        if number != int(number):
            raise PlanError(f'{what} is "{text}"; a whole number was expected.')
        return int(number)
    return number


def read_log(path: Path, kind, needed: tuple[str, ...]) -> tuple:
    """The lines of an append-only log as `kind`, whatever their order in the file; an empty cell keeps the default."""
    if not path.exists():
        return ()
    types = {field.name: field.type for field in fields(kind)}
    entries = []
    for line, row in read_table(path, tuple(types), needed=needed).items():
        what = (
            f"{path.name} line {line}, number {row['number']}: "
            if row["number"]
            else f"{path.name} line {line}: "
        )
        values = {
            name: _cell(types[name], text, what + name)
            for name, text in row.items()
            if name in types and text
        }
        missing = [name for name in needed if name not in values]
        if missing:
            raise PlanError(f"{what}{missing[0]} is empty. Fill it in, or take the whole line out.")
        entries.append(kind(**values))
    numbers = [entry.number for entry in entries]
    twice = next((n for n in numbers if numbers.count(n) > 1), None)
    if twice is not None:
        raise PlanError(
            f"{path.name} has two lines with the number {twice}. Give the later one a number of its own."
        )
    return tuple(sorted(entries, key=lambda entry: entry.number))


def read_measurements(folder: Path) -> tuple[Measurement, ...]:
    """The measurements log of a piece; none if there is no such file."""
    return read_log(folder / "measurements.csv", Measurement, MEASUREMENTS_NEED)


def log_measurement(folder: str | Path, make) -> Measurement:
    """Add one line to measurements.csv. `make` is given the next number and returns the Measurement; when this
    returns, the line is on disk."""
    path = Path(folder) / "measurements.csv"
    with locked(path):
        log = read_measurements(path.parent)
        new = make(max((m.number for m in log), default=0) + 1)
        evidence_in(new)
        if new.corrects is not None and new.corrects not in {m.number for m in log}:
            raise PlanError(
                f"Number {new.corrects}, whose place this line should take, is not in the log."
            )
        append_row(path, tuple(field.name for field in fields(Measurement)), asdict(new))
    return new


def read_progress(folder: Path) -> tuple[Entry, ...]:
    """The progress log of a piece; none if there is no such file."""
    return read_log(folder / "progress.csv", Entry, PROGRESS_NEED)


def log_progress(project: Project, what: str, row: int, **values) -> Entry:
    """Add one line to the piece's progress.csv; when this returns, the line is on disk. A row that cannot be marked is
    refused, also if another notebook has marked it meanwhile."""
    if project.folder is None:
        raise PlanError(
            "This piece has no folder to keep its progress in. Open one with open_project."
        )
    path = project.folder / "progress.csv"
    totals = project.row_totals()
    with locked(path):
        log = read_progress(project.folder)
        rows_worked(log, totals)
        if what in (WORKED, UNDONE):
            check_mark(log, what, row, len(totals))
            values["stitches"] = totals[row - 1]
        new = Entry(
            max((e.number for e in log), default=0) + 1,
            date.today().isoformat(),
            what,
            row,
            **values,
        )
        append_row(path, tuple(field.name for field in fields(Entry)), asdict(new))
    return new


def read_choices(path: Path) -> tuple[OwnChoice, ...]:
    """What the knitter decided by hand; of two lines about one place the later holds, and an empty choice withdraws."""
    if not path.exists():
        return ()
    held: dict[tuple, OwnChoice] = {}
    for row in read_table(path, CHOICE_COLUMNS, needed=CHOICES_NEED).values():
        what = f"{path.name}, {row.get('strand_then') or row['yarn']}: "
        numbers = [_number(row[name], what + name) for name in ("row", "stitch")]
        if any(number is None or number < 1 or number != int(number) for number in numbers):
            raise PlanError(
                f'{what}row and stitch are "{row["row"]}" and "{row["stitch"]}"; both are whole numbers from 1.'
            )
        choice = OwnChoice(
            row["about"],
            row["yarn"],
            int(numbers[0]),
            int(numbers[1]),
            row.get("part") or "whole",
            row["choice"],
        )
        key = (choice.about, choice.yarn, choice.row, choice.stitch, choice.part)
        held.pop(key, None)
        if choice.choice:
            held[key] = choice
    return tuple(held.values())


def keep_choice(
    folder: str | Path, choice: OwnChoice, *, strand_then: str = "", on: date | None = None
) -> Path:
    """Add a line to choices.csv; what stands there keeps its words and its order."""
    path = Path(folder) / "choices.csv"
    new = {"date": (on or date.today()).isoformat(), **asdict(choice), "strand_then": strand_then}
    with locked(path):
        append_row(path, CHOICE_COLUMNS, new)
    return path


def start_piece(data: Path, name: str, chart: Chart, yarns: dict[str, Yarn]) -> Path:
    """Make the folder of a new piece below `data`, named after it, with its chart and yarns; returns the folder."""
    words = re.findall(r"\w+", name.lower())
    if not words:
        raise PlanError(
            "The piece has no name yet. Give it one, such as hill scarf; its folder is named after it."
        )
    folder = data / "-".join(words)
    try:
        folder.mkdir()
    except FileExistsError:
        raise PlanError(
            f"There is a piece {folder.name} already. Choose another name, or open that one."
        ) from None
    nothing = Project(name.strip(), chart)
    piece = replace(nothing, yarns=yarns, folder=folder)
    save_yarns(piece, kept=nothing)
    save_chart(piece, kept=nothing)
    save_settings(piece)
    return folder
