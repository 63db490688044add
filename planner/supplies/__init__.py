"""Supplies: how long each strand is and how it is held, down to what to wind and to buy.

lengths       yarn by part of a strand, each share apart
choose        how each part is held
ways          the ways of holding side by side, for each stretch of rows
winding       the pieces to wind, and the winding list
shopping      balls to have and to buy
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.supplies.choose import (
        capacity_cm,
        choose_supplies,
        part_rows,
        pieces_needed,
        usable_cm,
    )
    from planner.supplies.lengths import (
        SHARES,
        Planned,
        measure_parts,
        run_lengths,
        run_widths,
        strand_lengths,
        strand_parts,
    )
    from planner.supplies.shopping import (
        balls_to_be_had,
        shopping_list,
        swatch_length_cm,
    )
    from planner.supplies.ways import (
        compare_ways,
        stretches,
    )
    from planner.supplies.winding import (
        HOW_TO,
        hanging_pieces,
        winding_list,
        winding_pieces,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "choose": (
                "capacity_cm",
                "choose_supplies",
                "part_rows",
                "pieces_needed",
                "usable_cm",
            ),
            "lengths": (
                "SHARES",
                "Planned",
                "measure_parts",
                "run_lengths",
                "run_widths",
                "strand_lengths",
                "strand_parts",
            ),
            "shopping": (
                "balls_to_be_had",
                "shopping_list",
                "swatch_length_cm",
            ),
            "ways": (
                "compare_ways",
                "stretches",
            ),
            "winding": (
                "HOW_TO",
                "hanging_pieces",
                "winding_list",
                "winding_pieces",
            ),
        },
    )
