"""Pictures: what the plan looks like, drawn by matplotlib.

plan_pictures the chart, its strands, the order of the strands in each row, the load
evidence      measurements and multipliers
choices       bobbins in use, ends against carries
twists        how the balls' yarns lie
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.pictures.choices import (
        draw_bobbins,
        draw_tradeoff,
    )
    from planner.pictures.evidence import (
        draw_multipliers,
        draw_used_against_planned,
    )
    from planner.pictures.plan_pictures import (
        draw_chart,
        draw_load,
        draw_strand_order,
        draw_strands,
        strand_grid,
        strand_tints,
    )
    from planner.pictures.twists import (
        draw_tangle,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "choices": (
                "draw_bobbins",
                "draw_tradeoff",
            ),
            "evidence": (
                "draw_multipliers",
                "draw_used_against_planned",
            ),
            "plan_pictures": (
                "draw_chart",
                "draw_load",
                "draw_strand_order",
                "draw_strands",
                "strand_grid",
                "strand_tints",
            ),
            "twists": ("draw_tangle",),
        },
    )
