"""Supplies: how long each strand is and how it is held, down to what to wind and to buy.

lengths       yarn by part of a strand, every share of it apart
habits        what each supply holds, and in how many pieces a length is wound
sections      the rows in stretches that are alike in how full they are
balls         balls as things with a length: which of them feeds which strand
held          how a part is held, stage by stage
choose        the supply of each part: the knitter's own choice, else section by section
own           the knitter's own choices, by strand
reasons       what speaks against a supply, in words
tables        tables from lines
winding       the pieces to wind, and the winding list
shopping      balls to have and to buy
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.supplies.balls import (
        Feeding,
        Table,
    )
    from planner.supplies.choose import (
        choose_supplies,
    )
    from planner.supplies.habits import (
        LONGEST_LOOSE_CM,
        capacity_cm,
        fullest_cm,
        pieces_needed,
        suits,
        usable_cm,
        way_to_wind,
    )
    from planner.supplies.held import (
        Held,
        Stage,
        supplies_table,
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
    from planner.supplies.sections import (
        Section,
        find_sections,
    )
    from planner.supplies.shopping import (
        NOT_KNOWN,
        YarnNeeded,
        lengths_of_balls,
        shopping_list,
        swatch_length_cm,
        yarn_needed,
        yarns_not_known,
    )
    from planner.supplies.tables import (
        table_of,
    )
    from planner.supplies.winding import (
        CAST_ON,
        NOT_WOUND,
        TO_EMBROIDER,
        Piece,
        alike_pieces,
        balls_of_yarns,
        hanging_pieces,
        which_ball,
        winding_list,
        winding_pieces,
        wraps_of,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
