"""Workbook: widgets that drive the planner in Jupyter.

opened          what the notebooks call: an open piece, a method a cell
folds           what is kept out of the way until it is asked for
desk, panes     one piece on the desk, and what shows it, also in a saved notebook
drawing         what follows from a change, brought up to date by and by
labels          what a field is called, the unit behind it, and help on demand
slider, colour_box
                boxes of the workbook's own
fields, asking  the boxes, and forms made of them and of a plain function of their values
chart_and_gauge, yarns, yarn_letters, loading, written_out, swatch, measuring, yarn_plan,
what_follows, row_by_row, beside_the_card, in_the_row, on_the_table, common
                the forms of notebook 1 (with files in and out), of 2 to 4, and of several
from_chart      a swatch from the chart, of notebook 2, and what is measured in it
mending         what is wrong, and its cures, of notebook 4
basket          what is in the basket, of notebook 5
together        the piece with others from one purse of yarn, of notebook 3
offers, offered, weighing, trade_off, ceiling, buying
                those of notebook 5: the chart with the offers on it, what is told of each, how they
                are found, limits by their price, never more at once, what to own and to buy
finishing, handing_on
                those of notebook 6: what is left to do off the needles; a pattern, a class handout
results         what the plan comes to, and what a change has made of it
headings, choice_headings
                how things stand, for the folds of notebooks 3 and 5
choosing, readers, read_yarns, previews, doubts, framing
                a file on its way in: the button to choose it with, what it is read by, its yarns
                and their names, how that looks, cells in doubt one by one, a picture with a frame
                and pages to choose from
card            the card of a row as HTML
noting          lines added to the progress of the piece
to_paper        the plan on paper, from notebooks 3 and 4
pieces          the menu of pieces, and a new one
keeping, news, troubles
                earlier versions, what has changed elsewhere, what is wrong and the ways out
painting        the chart to paint on
waiting         a bar where a plan takes long, which can be stopped
refresh         runs the notebooks anew
views           JupyterLab's files, where the notebooks are only to be read
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

# A type checker reads the names here, a program below, each when it is asked for.
if TYPE_CHECKING:
    from planner.workbook.asking import (
        DeskBoxes,
        Setting,
        fields_form,
        heard,
    )
    from planner.workbook.basket import (
        basket_form,
    )
    from planner.workbook.beside_the_card import (
        changes_fold,
        ends_pane,
        lasts_pane,
        order_pane,
        pattern_pane,
        stops_pane,
        stretches_pane,
    )
    from planner.workbook.buying import (
        bobbins_form,
        buying_form,
        savings_pane,
    )
    from planner.workbook.ceiling import (
        ceiling_form,
    )
    from planner.workbook.chart_and_gauge import (
        construction_form,
        height_form,
        place_form,
        quick_sum_form,
    )
    from planner.workbook.common import (
        gauge_form,
        keep_choices,
        limits_form,
        units_form,
    )
    from planner.workbook.desk import (
        Desk,
        open_desk,
    )
    from planner.workbook.fields import (
        labelled,
        strand_box,
    )
    from planner.workbook.finishing import (
        EndBoxes,
        finishing_form,
    )
    from planner.workbook.folds import (
        Fold,
        SideBySide,
        fold,
    )
    from planner.workbook.from_chart import (
        swatch_form,
        swatch_in_words,
    )
    from planner.workbook.handing_on import (
        class_handout_form,
        pattern_for_others_form,
    )
    from planner.workbook.in_the_row import (
        in_row_form,
    )
    from planner.workbook.keeping import (
        news_form,
        versions_form,
    )
    from planner.workbook.loading import (
        load_form,
    )
    from planner.workbook.measuring import (
        measure_form,
        measuring_fields,
        numbers,
        supply_values,
    )
    from planner.workbook.mending import (
        mending_form,
    )
    from planner.workbook.offers import (
        Offers,
        offers_form,
    )
    from planner.workbook.on_the_table import (
        balls_form,
    )
    from planner.workbook.opened import (
        Piece,
        open_piece,
    )
    from planner.workbook.painting import (
        Painting,
        headline,
        pack,
        unpack,
    )
    from planner.workbook.panes import (
        Form,
        Pane,
        heading,
        notice,
        picture_html,
        picture_png,
        table_html,
    )
    from planner.workbook.pieces import (
        Menu,
        new_piece_form,
        open_chosen,
    )
    from planner.workbook.previews import (
        preview_html,
    )
    from planner.workbook.readers import (
        Reader,
        reader_for,
    )
    from planner.workbook.results import (
        result_pane,
    )
    from planner.workbook.row_by_row import (
        row_form,
        several_rows_form,
    )
    from planner.workbook.swatch import (
        advice_in_words,
        advice_pane,
        apply_form,
        hand_form,
        lengths_in_words,
        log_in_words,
        log_pane,
        log_table,
        measured_plan,
        multiplier_table,
        used_form,
        used_in_words,
        weigh_form,
        worked_out_form,
    )
    from planner.workbook.to_paper import (
        finishing_page_form,
        sheet_form,
    )
    from planner.workbook.together import (
        together_fold,
    )
    from planner.workbook.trade_off import (
        tradeoff_form,
    )
    from planner.workbook.weighing import (
        embroidery_pane,
        start_form,
        weighing_form,
    )
    from planner.workbook.what_follows import (
        how_full_pane,
        how_to_wind,
        lengths_by_strand,
        lengths_pane,
        plan_form,
        shopping_pane,
        strand_map,
        strand_order_form,
        what_to_wind,
        where_sewn_in,
        winding_pane,
        winding_table,
    )
    from planner.workbook.written_out import (
        out_form,
    )
    from planner.workbook.yarn_plan import (
        carrying_form,
        choice_form,
        holding_form,
        how_much_form,
        lengths_form,
        ways_form,
    )
    from planner.workbook.yarns import (
        yarns_form,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
