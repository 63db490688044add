"""Finishing: what is left to do when the piece is off the needles.

measures      what to block it to: its size, and its outline stretch by stretch
care          how it is blocked, by the yarns' labels, and what was measured unblocked
ends          the ends still to be sewn in, area by area, as the back shows them
paths         where an end can be run
embroider     what is embroidered after blocking, and what to mind
tighten       where stitches are likely to lie loose: long borders, new strands, middle starts
edges         the edges of the piece, stitch by stitch, in their colours
picking_up    stitches to pick up along an edge, by colour
seams         where two edges meet colour to colour, and how to ease one to the other
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.finishing.care import (
        Unblocked,
        how_to_block,
        unblocked,
    )
    from planner.finishing.edges import (
        EdgeStitch,
        edge_stitches,
        edges_of,
        side_edges_of,
    )
    from planner.finishing.embroider import (
        HOW_TO_COVER,
        TO_COVER,
        ToEmbroider,
        to_cover,
        to_embroider,
        to_mind,
    )
    from planner.finishing.ends import (
        WHATS,
        AreaOfEnds,
        LeftEnd,
        areas_of_ends,
        ends_apart,
        ends_in_words,
        ends_left,
        ends_to_draw_out,
        ends_to_run,
        how_far,
        how_to_run,
        how_to_sew,
        marks_of,
        not_there_yet,
        way_in_words,
    )
    from planner.finishing.measures import (
        Measure,
        measures_of,
        size_of,
    )
    from planner.finishing.picking_up import (
        PickUp,
        in_rhythm,
        pick_up,
        pick_up_in_words,
        spread,
    )
    from planner.finishing.seams import (
        Seam,
        Stretch,
        seam_of,
    )
    from planner.finishing.tighten import (
        HOW_TO_TIGHTEN,
        Border,
        borders_to_tighten,
        loose_places,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
