"""Workbook: widgets that drive the planner in Jupyter.

desk          one piece on the desk, and the panes that show it
forms, chart_forms, load_forms, measure_forms, row_forms, choice_forms
              what is asked in each notebook
painting      the chart to paint on
refresh       runs the notebooks anew
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.workbook.chart_forms import (
        new_piece_form,
        out_form,
        paint_form,
        place_form,
        yarns_form,
    )
    from planner.workbook.choice_forms import (
        bobbins_form,
        buying_form,
        ceiling_form,
        embroidery_pane,
        keep_choices,
        offers_form,
        savings_pane,
        tradeoff_form,
        weighing_form,
    )
    from planner.workbook.desk import (
        Desk,
        Form,
        Pane,
        heading,
        notice,
        open_desk,
        picture_html,
        picture_png,
        table_html,
    )
    from planner.workbook.forms import (
        Field,
        choice_form,
        construction_form,
        fields_form,
        gauge_form,
        heard,
        height_form,
        how_to_wind,
        keep_form,
        labelled,
        lengths_form,
        limits_form,
        quick_sum_form,
        strand_box,
        strand_order_form,
        units_form,
        ways_form,
    )
    from planner.workbook.load_forms import (
        Loaded,
        load_form,
        preview_html,
        reader_for,
    )
    from planner.workbook.measure_forms import (
        advice_pane,
        apply_form,
        log_pane,
        log_table,
        measure_form,
        measured_plan,
        measuring_fields,
        multiplier_table,
        multipliers_picture,
        numbers,
        supply_values,
        used_pane,
        used_picture,
        weigh_form,
    )
    from planner.workbook.painting import (
        Painting,
        headline,
        pack,
        unpack,
    )
    from planner.workbook.row_forms import (
        card_html,
        cards_pane,
        changes_pane,
        left_form,
        row_form,
        stops_pane,
        twist_form,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "chart_forms": (
                "new_piece_form",
                "out_form",
                "paint_form",
                "place_form",
                "yarns_form",
            ),
            "choice_forms": (
                "bobbins_form",
                "buying_form",
                "ceiling_form",
                "embroidery_pane",
                "keep_choices",
                "offers_form",
                "savings_pane",
                "tradeoff_form",
                "weighing_form",
            ),
            "desk": (
                "Desk",
                "Form",
                "Pane",
                "heading",
                "notice",
                "open_desk",
                "picture_html",
                "picture_png",
                "table_html",
            ),
            "forms": (
                "Field",
                "choice_form",
                "construction_form",
                "fields_form",
                "gauge_form",
                "heard",
                "height_form",
                "how_to_wind",
                "keep_form",
                "labelled",
                "lengths_form",
                "limits_form",
                "quick_sum_form",
                "strand_box",
                "strand_order_form",
                "units_form",
                "ways_form",
            ),
            "load_forms": (
                "Loaded",
                "load_form",
                "preview_html",
                "reader_for",
            ),
            "measure_forms": (
                "advice_pane",
                "apply_form",
                "log_pane",
                "log_table",
                "measure_form",
                "measured_plan",
                "measuring_fields",
                "multiplier_table",
                "multipliers_picture",
                "numbers",
                "supply_values",
                "used_pane",
                "used_picture",
                "weigh_form",
            ),
            "painting": (
                "Painting",
                "headline",
                "pack",
                "unpack",
            ),
            "row_forms": (
                "card_html",
                "cards_pane",
                "changes_pane",
                "left_form",
                "row_form",
                "stops_pane",
                "twist_form",
            ),
        },
    )
