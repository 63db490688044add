"""A piece's plan without notebooks: printed, and its tables and pictures written beside it."""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

from planner.errors import PlanError
from planner.folder import open_project, replace_text
from planner.pictures import draw_chart, draw_load, draw_strand_order, draw_strands
from planner.plan import Plan, make_plan

TABLES = (
    *(
        "strands",
        "supplies",
        "ways",
        "winding_list",
        "shopping_list",
        "rows",
        "ends",
        "ends_by_area",
        "areas",
        "findings",
    ),
    "embroidery",
)
ROWS_A_PICTURE = 24
CARE = (
    "Take breaks: long rows and heavy work tire hands and wrists; for pain see a professional. "
    "Keep yarn, cords and bobbins away from small children and pets. For washing and blocking "
    "follow the yarn's label."
)


def write_tables(plan: Plan, folder: Path):
    """Each table of the plan as CSV."""
    for name in TABLES:
        replace_text(
            folder / f"{name}.csv", getattr(plan, name).to_csv(index=False, lineterminator="\n")
        )


def write_pictures(plan: Plan, folder: Path, say=print):
    """The plan's pictures as PNG; the order of the strands for the rows around the fullest one."""
    peak = int(plan.rows.live.idxmax()) + 1
    first = max(1, min(peak - ROWS_A_PICTURE // 2, len(plan.rows) - ROWS_A_PICTURE + 1))
    pictures = {
        "chart": lambda: draw_chart(plan),
        "strands": lambda: draw_strands(plan),
        "strand-order": lambda: draw_strand_order(plan, first, first + ROWS_A_PICTURE - 1),
        "load": lambda: draw_load(plan),
    }
    for name, draw in pictures.items():
        say(f"Drawing {name}.png …")
        draw().savefig(folder / f"{name}.png", dpi=150, metadata={"Software": None})


def main(arguments: list[str]) -> int:
    if len(arguments) != 1:
        print("Name one folder: python3 -m planner plan data/NAME")
        return 2
    try:
        project = open_project(arguments[0])
        plan = make_plan(project, say=print)
        folder = Path(arguments[0]) / "plan"
        folder.mkdir(exist_ok=True)
        print(plan.summary())
        with pd.option_context(
            "display.width",
            160,
            "display.max_colwidth",
            80,
            "display.max_columns",
            20,
            "display.max_rows",
            500,
        ):
            print("\nCheck before cast-on\n")
            for finding in plan.findings.itertuples():
                print(f"- {finding.where}: {finding.finding}. {finding.what_to_do}")
            for note in plan.notes:
                print(f"- {note}")
            print("\nWinding list, in the order of first need\n")
            first = plan.winding_list.first_row.astype(str) + " " + plan.winding_list.first_side
            print(
                plan.winding_list.assign(from_row=first)[["line", "supply", "from_row"]].to_string(
                    index=False
                )
            )
            print("\nShopping list\n")
            print(plan.shopping_list.to_string(index=False))
        write_tables(plan, folder)
        write_pictures(plan, folder)
        print(f"\nTables and pictures are in {folder}.\n{CARE}")
    except PlanError as error:
        print(f"Please look at this: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
