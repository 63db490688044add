"""Rows: the piece row by row, as the hands work it.

load          how full each row is
cards         what to do in each row
twists        how the yarns of the balls lie, and how to clear them
ends          the ends to sew in
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.rows.cards import (
        Card,
        how_to_cross,
        make_cards,
        show_tail,
    )
    from planner.rows.ends import (
        ends_by_area,
        list_ends,
        plan_sewing,
    )
    from planner.rows.load import (
        load_by_row,
    )
    from planner.rows.phrases import (
        embroidered_in_words,
    )
    from planner.rows.twists import (
        Tangle,
        as_word,
        best_row_to_clear,
        half_twist,
        ledger_table,
        linking,
        reduce_word,
        twist_ledger,
        what_to_do,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "cards": (
                "Card",
                "how_to_cross",
                "make_cards",
                "show_tail",
            ),
            "ends": (
                "ends_by_area",
                "list_ends",
                "plan_sewing",
            ),
            "load": ("load_by_row",),
            "phrases": ("embroidered_in_words",),
            "twists": (
                "Tangle",
                "as_word",
                "best_row_to_clear",
                "half_twist",
                "ledger_table",
                "linking",
                "reduce_word",
                "twist_ledger",
                "what_to_do",
            ),
        },
    )
