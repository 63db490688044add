"""Pictures: what the plan looks like, drawn by matplotlib, never by pyplot.

canvas        the style, the sheet in the shape of the chart, marks that several pictures share
words         short texts at many places, drawn together
chart         the chart, and the map of its strands: shades has their colours, and labels says
              where their names have room
back          the back of the piece, with the ends of a colour area
order         the order of the strands in each row
load          how full each row is
evidence      measurements and multipliers
choices       ends against carries, bobbins in use
twists        how the balls' yarns lie, and how hands clear them
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.pictures.back import (
        Spot,
        draw_back,
    )
    from planner.pictures.canvas import (
        QUICK,
        png_of,
    )
    from planner.pictures.chart import (
        draw_chart,
        draw_strands,
        draw_window,
        strand_grid,
    )
    from planner.pictures.choices import (
        draw_bobbins,
        draw_tradeoff,
    )
    from planner.pictures.evidence import (
        draw_multipliers,
        draw_used_against_planned,
    )
    from planner.pictures.labels import (
        Label,
        Page,
        Part,
        parts_of,
        place_labels,
    )
    from planner.pictures.load import (
        draw_load,
    )
    from planner.pictures.order import (
        draw_strand_order,
    )
    from planner.pictures.shades import (
        strand_shades,
    )
    from planner.pictures.twists import (
        draw_moves,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
