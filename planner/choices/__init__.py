"""Choices: what else could be done, and what it would cost or save.

asked         what the knitter's own choices ask of the plan
embroidery    what is embroidered afterwards
offers        single choices and what each would save
tradeoff      ends against carries for several limits
ceiling       never more than so many strands at once
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.choices.asked import (
        BY_ITSELF,
        Asked,
        ask,
        carries_not_made,
        choice_at,
        choice_in_words,
        choice_of_area,
        find_run,
        trace_asked,
    )
    from planner.choices.ceiling import (
        Ceiling,
        hanging,
        keep_under,
    )
    from planner.choices.embroidery import (
        Embroidery,
        embroidery_in_words,
        knit_beneath,
    )
    from planner.choices.offers import (
        Offer,
        Price,
        Pricing,
        find_offers,
        offer_table,
        reach,
        rows_above,
        small_areas,
    )
    from planner.choices.trade_off import (
        beaten,
        ladder,
        limits_in_words,
        tradeoff,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "asked": (
                "BY_ITSELF",
                "Asked",
                "ask",
                "carries_not_made",
                "choice_at",
                "choice_in_words",
                "choice_of_area",
                "find_run",
                "trace_asked",
            ),
            "ceiling": (
                "Ceiling",
                "hanging",
                "keep_under",
            ),
            "embroidery": (
                "Embroidery",
                "embroidery_in_words",
                "knit_beneath",
            ),
            "offers": (
                "Offer",
                "Price",
                "Pricing",
                "find_offers",
                "offer_table",
                "reach",
                "rows_above",
                "small_areas",
            ),
            "trade_off": (
                "beaten",
                "ladder",
                "limits_in_words",
                "tradeoff",
            ),
        },
    )
