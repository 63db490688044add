"""Rows: the piece row by row, as the hands work it.

load          how full each row is
cards         what to do in each row, and in casting on and binding off
carries       where carried yarn is caught
phrases       the words of the cards
shaping       what a row takes off the stitches of the row before, and adds
ends          the ends to sew in
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.rows.cards import (
        Card,
        Cards,
        Line,
        make_cards,
    )
    from planner.rows.ends import (
        Caught,
        End,
        ends_by_area,
        ends_caught,
        ends_table,
        list_ends,
        plan_sewing,
    )
    from planner.rows.load import (
        RowLoad,
        load_by_row,
        load_table,
        runs_by_row,
    )
    from planner.rows.phrases import (
        embroidered_in_words,
        how_to_cross,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
