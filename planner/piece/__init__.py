"""Piece: what is asked. Plain frozen values that check themselves; nothing is computed here.

chart         the grid of yarn letters
construction  how it is worked: flat, in rounds or in turned rounds, side, direction, fabric
gauge         stitches and rows over a length
limits        how far a yarn may be carried
yarn          what a band says, and what is in hand
settings      allowances, habits, and what was decided by hand
log           the lines of the two logs: rows worked, yarn measured
project       all of them together: a piece and how its knitter works
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.piece.chart import (
        LETTER,
        NO_STITCH,
        Chart,
        mirror,
    )
    from planner.piece.construction import (
        Construction,
    )
    from planner.piece.gauge import (
        Gauge,
    )
    from planner.piece.limits import (
        CarryLimits,
    )
    from planner.piece.log import (
        CLEARED,
        EXCHANGED,
        JOINED,
        LEFT,
        MARKED,
        NOTED,
        PARTS,
        SEWN_IN,
        SHORT,
        STOPPED,
        SUPPLY,
        TAKEN_OUT,
        UNDONE,
        UNRAVELLED,
        WAYS,
        WEIGHED,
        WORKED,
        WRAPS,
        Entry,
        Measurement,
        check_mark,
        in_force,
        notes_by_row,
        notes_in_row,
        part_title,
        rows_worked,
        standing,
    )
    from planner.piece.project import (
        Project,
    )
    from planner.piece.settings import (
        ALTERNATE,
        BALL,
        BOBBIN,
        BUTTERFLY,
        EVERY_YARN,
        FIRST_EDGE,
        FIRST_TURNS,
        LAST_EDGE,
        LOOSE,
        NO_YARN,
        PLACES,
        SAME_WAY,
        SHORTEST_YARN,
        SUPPLIES,
        SWATCH_IN,
        TRAIN,
        TURNINGS,
        WAYS_TO_A_MULTIPLIER,
        Allowances,
        Habits,
        MultiplierChoice,
        OwnChoice,
        Weighing,
        check_multiplier,
    )
    from planner.piece.yarn import (
        HAIRY,
        SLIPPERY,
        SURFACES,
        Yarn,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
