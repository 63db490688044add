"""Strands: the exact part. From the chart to the fewest continuous lengths of yarn.

arrays        what the room's arrays hold, and what hangs together in them
runs          the longest stretches of one yarn in one worked row
links         which runs may be joined, and what that carries
matching      the best choice of links, exactly
prices        which links of a large group can be in a best choice at all
trace         strands: runs joined by the links chosen
needle        the stitches of each row, and where an edge lies among them
walk          where each run's yarn comes from and where it goes
knitted       what is knitted already, as the log keeps it
areas         colour areas
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.strands.areas import (
        area_table,
        label_areas,
    )
    from planner.strands.arrays import (
        connected_parts,
    )
    from planner.strands.knitted import (
        Knitted,
        KnittedRun,
        knitted_of,
        note_row,
    )
    from planner.strands.links import (
        ACROSS,
        MIDDLE,
        ON,
        UP,
        Links,
        add_carries,
        find_links,
    )
    from planner.strands.matching import (
        cheapest_matching,
    )
    from planner.strands.runs import (
        Runs,
        find_runs,
    )
    from planner.strands.trace import (
        Strands,
        allowed_links,
        trace_strands,
    )
    from planner.strands.walk import (
        SLACK,
        Walk,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
