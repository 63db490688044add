"""Supplies: how long each strand is and how it is held, down to what to wind and to buy.

lengths       yarn by part of a strand, every share of it apart
habits        what each supply holds, and in how many pieces a length is wound
balls         which balls lie on the table in which rows
choose        the supply of each part: the knitter's own choice, else by length and balls
own           the knitter's own choices, by strand
reasons       what speaks against a supply, in words
ways          the ways of holding side by side, for each stretch of rows
winding       the pieces to wind, and the winding list
shopping      balls to have and to buy
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.supplies.choose import (
        Held,
        choose_supplies,
        supplies_table,
    )
    from planner.supplies.habits import (
        capacity_cm,
        pieces_needed,
        usable_cm,
    )
    from planner.supplies.lengths import (
        Part,
        Planned,
        fixed_lengths,
        lengths_by_strand,
        measure_parts,
        run_lengths,
        run_widths,
    )
    from planner.supplies.own import (
        own_supplies,
    )
    from planner.supplies.shopping import (
        YarnNeeded,
        shopping_list,
        swatch_length_cm,
        yarn_needed,
    )
    from planner.supplies.ways import (
        compare_ways,
        find_stretches,
    )
    from planner.supplies.winding import (
        HOW_TO,
        Piece,
        hanging_pieces,
        winding_list,
        winding_pieces,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
