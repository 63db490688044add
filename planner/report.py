"""A piece's plan without notebooks: printed, its tables and pictures written beside it; a sheet."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from planner.charts import tables_xlsx
from planner.edition import make_lesson
from planner.errors import PlanError
from planner.folder import locked_folder, open_project, write_together
from planner.paper import (
    CARDS,
    HANDOUT,
    HANDOUT_TEXT,
    PATTERN,
    PATTERN_TEXT,
    SHEET,
    all_papers,
    csv_of,
    handout_files,
    pattern_files,
    tables_of,
)
from planner.pictures import draw_chart, draw_load, draw_strand_order, draw_strands, png_of
from planner.plan import Plan, make_plan
from planner.supplies import NOT_KNOWN, yarns_not_known

ROWS_A_PICTURE = 24
DOTS_PER_INCH = 150
CARE = (
    "Take breaks: long rows and heavy work tire hands and wrists; for pain see a professional. "
    "Keep yarn, cords and bobbins away from small children and pets. For washing and blocking "
    "follow the yarn's label."
)
# How wide pandas prints a table.
PRINTED = {
    "display.width": 160,
    "display.max_colwidth": 80,
    "display.max_columns": 20,
    "display.max_rows": 500,
}


def table_files(plan: Plan) -> dict[str, bytes]:
    """The plan's tables as CSV, and all of them as one workbook, by the name of their files."""
    tables = tables_of(plan)
    files = {f"{name}.csv": csv_of(table) for name, table in tables.items()}
    return files | {"tables.xlsx": tables_xlsx(tables)}


def pictures_of(plan: Plan, say: Callable[[str], None] = print) -> dict[str, bytes]:
    """The plan's pictures as PNG, by the name of their files.

    The order of the strands is that of the rows around the fullest one.
    """
    fullest = max(plan.loads, key=lambda load: load.live).row + 1
    last_start = len(plan.loads) - ROWS_A_PICTURE + 1
    first = max(1, min(fullest - ROWS_A_PICTURE // 2, last_start))

    last = first + ROWS_A_PICTURE - 1

    pictures: dict[str, Callable[[], bytes]] = {
        "chart": lambda: png_of(draw_chart(plan), dpi=DOTS_PER_INCH),
        "strands": lambda: png_of(draw_strands(plan), dpi=DOTS_PER_INCH),
        "strand-order": lambda: png_of(draw_strand_order(plan, first, last), dpi=DOTS_PER_INCH),
        "load": lambda: png_of(draw_load(plan), dpi=DOTS_PER_INCH),
    }
    drawn = {}
    for name, draw in pictures.items():
        say(f"Drawing {name}.png …")
        drawn[f"{name}.png"] = draw()
    return drawn


def print_plan(plan: Plan) -> None:
    """What the plan says in words, its winding list and its shopping list."""
    print(plan.summary())
    print("\nCheck before cast-on\n")
    for finding in plan.findings.itertuples():
        print(f"- {finding.where}: {finding.finding}. {finding.what_to_do}")
    for note in plan.notes:
        print(f"- {note}")

    winding = plan.winding_list
    first = winding.first_row.astype(str) + " " + winding.first_side
    print("\nWinding list, in the order of first need\n")
    print(winding.assign(from_row=first)[["line", "supply", "from_row"]].to_string(index=False))
    print("\nShopping list\n")
    print(plan.shopping_list.to_string(index=False))
    unknown = yarns_not_known(plan.needed)
    if unknown:
        print(f"{', '.join(unknown)}: {NOT_KNOWN}")


def report(piece: Path) -> None:
    """Print the plan of a piece, and write its tables and pictures into its folder `plan`."""
    plan = make_plan(open_project(piece), say=print)
    with pd.option_context(*(part for option in PRINTED.items() for part in option)):
        print_plan(plan)
    files = table_files(plan) | pictures_of(plan)
    with locked_folder(piece):
        write_together(piece, {f"plan/{name}": data for name, data in files.items()})
    print(f"\nTables and pictures are in {piece / 'plan'}.\n{CARE}")


def write_sheet(piece: Path, paper: str) -> None:
    """Write the plan of a piece as a PDF to print and its cards page, into its folder `out`."""
    plan = make_plan(open_project(piece), say=print)
    files = all_papers(plan, paper, say=print)
    with locked_folder(piece):
        write_together(piece, files)
    print(f"The sheet is {piece / SHEET}. Print it at its true size (100 %).")
    print(f"The row cards for a phone are {piece / CARDS}; they need no network.")


def write_pattern(piece: Path, paper: str) -> None:
    """Write a piece as a pattern for others, as PDF and as plain text, into its folder `out`."""
    plan = make_plan(open_project(piece), say=print)
    files = pattern_files(plan, paper)
    with locked_folder(piece):
        write_together(piece, files)
    print(f"The pattern is {piece / PATTERN}, and as plain text {piece / PATTERN_TEXT}.")


def write_handout(piece: Path, paper: str, students: int) -> None:
    """Write a handout for a class in the gauge of a piece, as PDF and as text, into its `out`."""
    lesson = make_lesson(open_project(piece), students=students)
    files = handout_files(lesson, paper)
    with locked_folder(piece):
        write_together(piece, files)
    print(f"The handout is {piece / HANDOUT}, and as plain text {piece / HANDOUT_TEXT}.")


def main(arguments: list[str]) -> int:
    """Do what the command line says; returns the exit code.

    Before the folder, `--sheet a4` asks for the sheet on that paper, `--pattern a4` for a pattern,
    `--handout a4 8` for a handout for eight students.
    """
    what, paper, students = "", "", 1
    if arguments[:1] in (["--sheet"], ["--pattern"], ["--handout"]):
        what, paper, *arguments = arguments
    if what == "--handout":
        students, arguments = int(arguments[0]), arguments[1:]
    if len(arguments) != 1:
        print("Name one folder: python3 -m planner plan data/NAME")
        return 2
    piece = Path(arguments[0])
    try:
        if what == "--sheet":
            write_sheet(piece, paper)
        elif what == "--handout":
            write_handout(piece, paper, students)
        elif what:
            write_pattern(piece, paper)
        else:
            report(piece)
    except PlanError as error:
        print(f"Please look at this: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
