"""Where each name of the planner lives: when something moves, only this file changes."""

from __future__ import annotations

from importlib import import_module

# By name the module, and after a colon the name it has there, where that is another.
WHERE = {
    # what is asked
    "Chart": "planner.chart",
    "Construction": "planner.construction",
    "Gauge": "planner.gauge",
    "CarryLimits": "planner.limits",
    "Yarn": "planner.yarn",
    "Allowances": "planner.lengths",
    "Habits": "planner.supplies",
    "Weighing": "planner.weighing",
    "MultiplierChoice": "planner.project",
    "OwnChoice": "planner.project",
    "Project": "planner.project",
    "Entry": "planner.progress",
    "Measurement": "planner.measurements",
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
    "Calibration": "planner.calibration",
    "Evidence": "planner.calibration",
    "Multiplier": "planner.multiplier",
    "noise_variance": "planner.calibration",
    "prior_covariance": "planner.calibration",
    "quick_sum": "planner.quicksum",
    "weighed": "planner.weights",
    "evidence_of": "planner.measurements",
    "in_force": "planner.measurements",
    "judge": "planner.measurements",
    "remarks": "planner.measurements",
    "same_as": "planner.measurements",
    # strands
    "Knitted": "planner.knitted",
    "cheapest_matching": "planner.matching",
    "find_links": "planner.links",
    "find_runs": "planner.runs",
    "label_areas": "planner.areas",
    "note_row": "planner.knitted",
    "place_in_words": "planner.findings:place",
    "rows_for": "planner.findings",
    "trace_strands": "planner.strands",
    # supplies and rows
    "HOW_TO": "planner.winding",
    "SUPPLIES": "planner.supplies",
    "as_word": "planner.twists",
    "best_row_to_clear": "planner.twists",
    "half_twist": "planner.twists",
    "how_to_cross": "planner.cards",
    "ledger_table": "planner.twists",
    "linking": "planner.twists",
    "reduce_word": "planner.twists",
    "twist_ledger": "planner.twists",
    "what_to_do": "planner.twists",
    # choices
    "ask": "planner.choices",
    "choice_in_words": "planner.choices:in_words",
    "find_offers": "planner.offers",
    "hanging": "planner.ceiling",
    "keep_under": "planner.ceiling",
    "limits_in_words": "planner.tradeoff",
    "offer_table": "planner.offers",
    "rows_above": "planner.offers",
    "trace_asked": "planner.choices",
    "tradeoff": "planner.tradeoff",
    # the plan, and with work on the needles
    "make_plan": "planner.plan",
    "balls_before_and_after": "planner.comparison",
    "before_and_after": "planner.comparison",
    "check_mark": "planner.progress",
    "most_useful_next": "planner.comparison",
    "planned_against_used": "planner.comparison",
    "planned_interval": "planner.comparison",
    "rows_worked": "planner.progress",
    "used_by_yarn": "planner.comparison:by_yarn",
    "used_in_words": "planner.comparison:in_words",
    "will_it_last": "planner.progress",
    "will_yarns_last": "planner.progress",
    # what to own and to buy
    "balls_table": "planner.buying",
    "best_share": "planner.lots",
    "bobbin_table": "planner.bobbins",
    "both_ends": "planner.bobbins",
    "copies": "planner.buying",
    "copies_table": "planner.buying",
    "mirrored": "planner.buying",
    "most_at_once": "planner.bobbins",
    "odd_metres": "planner.buying",
    "pieces_of": "planner.bobbins",
    "reuse_leftovers": "planner.bobbins",
    "share_lots": "planner.lots",
    "shop_for": "planner.buying",
    "splices": "planner.bobbins",
    "winding_stops": "planner.bobbins",
    # charts in and out
    "chart_picture": "planner.artwork",
    "chart_png": "planner.handout",
    "chart_xlsx": "planner.handout",
    "compare_levels": "planner.tidying",
    "free_letter": "planner.sheets",
    "mirror": "planner.placing",
    "open_artwork": "planner.artwork",
    "pick_colours": "planner.palette",
    "flat_colours": "planner.palette",
    "lab_of": "planner.palette",
    "rgb_of": "planner.palette",
    "from_hex": "planner.palette",
    "to_hex": "planner.palette",
    "read_grid_picture": "planner.gridpicture",
    "read_rows": "planner.written",
    "read_sheet": "planner.sheets",
    "repeat": "planner.placing",
    "set_into": "planner.placing",
    "set_on": "planner.placing",
    "stitches_for": "planner.artwork",
    "tidied": "planner.tidying",
    "write_rows": "planner.written",
    # the folder
    "append_row": "planner.files",
    "chart_csv": "planner.folder",
    "keep_choice": "planner.folder",
    "log_measurement": "planner.folder",
    "log_progress": "planner.folder",
    "open_project": "planner.folder",
    "read_chart": "planner.folder",
    "read_choices": "planner.folder",
    "read_measurements": "planner.folder",
    "read_progress": "planner.folder",
    "read_yarns": "planner.folder",
    "save_chart": "planner.folder",
    "save_settings": "planner.folder",
    "save_yarns": "planner.folder",
    "start_piece": "planner.folder",
    # pictures
    "draw_bobbins": "planner.choice_pictures",
    "draw_chart": "planner.pictures",
    "draw_load": "planner.pictures",
    "draw_multipliers": "planner.evidence_pictures",
    "draw_strand_order": "planner.pictures",
    "draw_strands": "planner.pictures",
    "draw_tangle": "planner.twist_pictures",
    "draw_tradeoff": "planner.choice_pictures",
    "draw_used_against_planned": "planner.evidence_pictures",
    "ink_on": "planner.pictures",
    "strand_grid": "planner.pictures",
    "strand_tints": "planner.pictures",
    # the workbook, the report, the command
    "Desk": "planner.desk",
    "card_html": "planner.row_forms",
    "headline": "planner.painting",
    "heading": "planner.desk",
    "how_to_wind": "planner.forms",
    "log_table": "planner.measure_forms",
    "multiplier_table": "planner.measure_forms",
    "pack": "planner.painting",
    "preview_html": "planner.load_forms",
    "supply_values": "planner.measure_forms",
    "table_html": "planner.desk",
    "unpack": "planner.painting",
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
    """The row cards of a plan."""
    return plan.cards


def multipliers_of(project):
    """The multiplier of each yarn of a project's chart."""
    return project.multipliers()


def calibration_of(project):
    """What a project's measurements say."""
    return project.calibration()


def knitted_of(project):
    """What is knitted of a project already."""
    return project.knitted()


def chart_lines(chart) -> list[str]:
    """A chart's rows, top row first, a cell apart."""
    return [" ".join(row) for row in chart.to_rows()]
