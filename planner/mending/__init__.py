"""Mending: a wrong stitch or a hole in what is knitted, and what each cure of it costs.

spots         where the fault lies, in words too
cure          a cure with its costs and its words
tails         which ends of yarn lie near
covering      duplicate stitch over it
columns       where a column may be let down, and what lies behind it
easing        yarn for a stitch made anew, out of those beside it
laddering     down the column to it, and up again
ripping       back to the row below it, or back stitch by stitch
hanging       where each yarn hangs then
in_hand       what there is of each supply then, and whether it is long enough
closing       a hole at a border, or a dropped stitch that cannot be picked up
remedies      all cures of a fault, the cheapest first
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.mending.covering import (
        places_to_cover,
    )
    from planner.mending.cure import (
        CLOSE,
        COVER,
        KNIT_BACK,
        LADDER,
        RIP,
        Cure,
    )
    from planner.mending.in_hand import (
        standing_in_words,
    )
    from planner.mending.remedies import (
        cures,
        cures_table,
    )
    from planner.mending.ripping import (
        Ripped,
        comes_undone,
        rip_back,
    )
    from planner.mending.spots import (
        DROPPED,
        FAULTS,
        HOLE,
        SPLIT,
        TWISTED,
        WRONG_SIDE,
        WRONG_YARN,
        Fault,
        Stitch,
        Work,
    )
    from planner.mending.tails import (
        numbers_in_words,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
