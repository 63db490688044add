"""Where each name of the planner lives: when something moves, only this file changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from importlib import import_module

import pandas as pd

# By name the module, and after a colon the name it has there, where that is another.
WHERE = {
    # what is asked
    "Chart": "planner.piece",
    "Construction": "planner.piece",
    "Gauge": "planner.piece",
    "CarryLimits": "planner.piece",
    "Yarn": "planner.piece",
    "Allowances": "planner.piece",
    "Habits": "planner.piece",
    "Weighing": "planner.piece",
    "MultiplierChoice": "planner.piece",
    "OwnChoice": "planner.piece",
    "Project": "planner.piece",
    "Entry": "planner.piece",
    "Measurement": "planner.piece",
    "PlanError": "planner.errors",
    # words and units
    "check_number": "planner.units",
    "counted": "planner.units",
    "exact": "planner.units",
    "parse_length": "planner.units",
    "rounded_up": "planner.units",
    "show": "planner.units",
    "shown": "planner.units",
    "to_cm": "planner.units",
    "units_in_words": "planner.units:in_words",
    # the multiplier
    "Calibration": "planner.multiplier",
    "Evidence": "planner.multiplier",
    "Multiplier": "planner.multiplier",
    "noise_variance": "planner.multiplier",
    "prior_covariance": "planner.multiplier.calibration",
    "quick_sum": "planner.buying",
    "weighed": "planner.buying",
    "arithmetic": "planner.multiplier",
    "ratio_of": "planner.multiplier",
    "evidence_in": "planner.multiplier",
    "evidence_of": "planner.multiplier",
    "in_force": "planner.piece",
    "judge": "planner.multiplier",
    "remarks": "planner.multiplier",
    "same_as": "planner.multiplier",
    # strands
    "Knitted": "planner.strands",
    "cheapest_matching": "planner.strands",
    "find_links": "planner.strands",
    "find_runs": "planner.strands",
    "label_areas": "planner.strands",
    "note_row": "planner.strands",
    "place_in_words": "planner.choices.check:place",
    "rows_for": "planner.choices",
    "trace_strands": "planner.strands",
    # supplies and rows
    "HOW_TO": "planner.cards",
    "SUPPLIES": "planner.piece",
    "advise": "planner.twists",
    "how_to_cross": "planner.cards",
    "as_word": "planner.twists",
    "half_twist": "planner.twists",
    "linking": "planner.twists",
    "reduce_word": "planner.twists",
    # choices
    "ask": "planner.choices",
    "choice_in_words": "planner.choices",
    "find_offers": "planner.choices",
    "keep_under": "planner.choices",
    "limits_in_words": "planner.choices",
    "offer_table": "planner.choices",
    "trace_asked": "planner.choices",
    "tradeoff": "planner.choices",
    # the plan, and with work on the needles
    "make_plan": "planner.plan",
    "balls_before_and_after": "planner.knitting",
    "before_and_after": "planner.knitting",
    "check_mark": "planner.piece",
    "most_useful_next": "planner.knitting",
    "planned_against_used": "planner.knitting",
    "planned_interval": "planner.knitting",
    "rows_worked": "planner.piece",
    "used_by_yarn": "planner.knitting:by_yarn",
    "used_in_words": "planner.knitting:comparison_in_words",
    "will_it_last": "planner.knitting",
    "will_yarns_last": "planner.knitting",
    # what to own and to buy
    "balls_table": "planner.buying",
    "best_share": "planner.buying",
    "bobbin_table": "planner.buying",
    "both_ends": "planner.buying",
    "copies": "planner.buying",
    "copies_table": "planner.buying",
    "mirrored": "planner.buying",
    "most_at_once": "planner.buying",
    "odd_metres": "planner.buying",
    "pieces_of": "planner.buying",
    "reuse_leftovers": "planner.buying",
    "share_lots": "planner.buying",
    "shop_for": "planner.buying",
    "splices": "planner.buying",
    "winding_stops": "planner.buying",
    # charts in and out
    "chart_picture": "planner.charts",
    "chart_png": "planner.charts",
    "chart_xlsx": "planner.charts",
    "compare_levels": "planner.charts",
    "free_letter": "planner.charts",
    "mirror": "planner.piece",
    "open_artwork": "planner.charts",
    "pick_colours": "planner.charts",
    "flat_colours": "planner.charts",
    "lab_of": "planner.charts",
    "rgb_of": "planner.charts.palette:rgb_of_lab",
    "from_hex": "planner.charts",
    "to_hex": "planner.charts",
    "read_grid_picture": "planner.charts",
    "read_rows": "planner.charts",
    "read_sheet": "planner.charts",
    "repeat": "planner.charts",
    "set_into": "planner.charts",
    "set_on": "planner.charts",
    "stitches_for": "planner.charts",
    "tidied": "planner.charts",
    "write_rows": "planner.charts",
    # the folder
    "chart_csv": "planner.folder",
    "keep": "planner.folder",
    "merged": "planner.folder",
    "settled": "planner.folder",
    "with_entry": "planner.folder",
    "with_measurement": "planner.folder",
    "open_project": "planner.folder",
    "read_chart": "planner.folder",
    "read_choices": "planner.folder",
    "read_measurements": "planner.folder",
    "read_progress": "planner.folder",
    "read_yarns": "planner.folder",
    "start_piece": "planner.folder",
    # pictures
    "draw_bobbins": "planner.pictures",
    "draw_chart": "planner.pictures",
    "draw_load": "planner.pictures",
    "draw_multipliers": "planner.pictures",
    "draw_strand_order": "planner.pictures",
    "draw_strands": "planner.pictures",
    "draw_moves": "planner.pictures",
    "draw_tradeoff": "planner.pictures",
    "draw_used_against_planned": "planner.pictures",
    "ink_on": "planner.colour",
    "strand_grid": "planner.pictures",
    "strand_shades": "planner.pictures",
    # the workbook, the report, the command
    "Desk": "planner.workbook",
    "card_html": "planner.workbook.card",
    "headline": "planner.workbook",
    "heading": "planner.workbook",
    "how_to_wind": "planner.workbook",
    "log_table": "planner.workbook",
    "multiplier_table": "planner.workbook",
    "pack": "planner.workbook",
    "preview_html": "planner.workbook",
    "supply_values": "planner.workbook",
    "table_html": "planner.workbook",
    "unpack": "planner.workbook",
    "report_main": "planner.report:main",
    "lab_options": "planner.__main__",
    "command_words": "planner.__main__:__doc__",
    "public_names": "planner:__all__",
}


class _House:
    """Every name of the table, looked up when it is asked for."""

    def __getattr__(self, name: str):
        module, _, its_name = WHERE[name].partition(":")
        return getattr(import_module(module), its_name or name)


house = _House()


# What is likely to be asked for in another way one day, so that adapting is one line.


def cards_of(plan):
    """The cards of a plan: that of the cast-on, those of the rows, that of binding off."""
    before, rows, after = plan.all_cards
    return [card for card in (before, *rows, after) if card]


def multipliers_of(project):
    """The multiplier of each yarn of a project's chart."""
    return import_module("planner.multiplier").multipliers_of(project)


def calibration_of(project):
    """What a project's measurements say."""
    return import_module("planner.multiplier").calibration_of(project)


def knitted_of(project):
    """What is knitted of a project already."""
    return import_module("planner.strands").knitted_of(project)


def note_row(plan, row: int) -> str:
    """How a worked row of a plan is noted."""
    return house.note_row(plan.traced, row)


def keep_changes(asked, new, what: tuple[str, ...]) -> None:
    """Keep in a piece's folder what differs of `new` from `asked`, of these fields."""
    touched = replace(asked, **{name: getattr(new, name) for name in what})
    house.keep(asked, lambda held: house.merged(asked, touched, held))


def keep_choice(at, choice, strand_then: str = "", on: date | None = None) -> None:
    """Keep one choice in a folder, on a day."""

    def with_it(held):
        return replace(held, choices=house.settled((*held.choices, choice)))

    day = datetime.combine(on or date.today(), time())
    house.keep(house.open_project(at), with_it, strand_then=strand_then, now=lambda: day)


def log_measurement(at, make):
    """Put one measurement into a folder's log; returns it."""

    def with_it(held):
        return replace(held, measurements=house.with_measurement(held.measurements, make))

    return house.keep(house.open_project(at), with_it).measurements[-1]


def log_progress(asked, what: str, row: int, **values):
    """Put one line into the progress of a piece; returns it."""

    def with_it(held):
        return replace(held, progress=house.with_entry(held, what, row, **values))

    return house.keep(asked, with_it).progress[-1]


def pieces_table(plan) -> pd.DataFrame:
    """The pieces of a plan as they hang, rows from 1."""
    table = pd.DataFrame(house.pieces_of(plan))
    from_1 = {name: table[name] + 1 for name in ("row", "begins", "done")}
    return table.assign(**from_1)


def chart_lines(chart) -> list[str]:
    """A chart's rows, top row first, a cell apart."""
    return [" ".join(row) for row in chart.to_rows()]
