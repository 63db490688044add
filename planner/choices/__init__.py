"""Choices: what else could be done, and what it would cost or save.

check         what is worth a second look before casting on
finding       what is worth a second look, where, what to do
yarns_to_buy  what to mind before yarn is bought: dye, thickness, felting, lots
alike         which yarns that touch look alike
places        what a choice is about: a yarn at a place, in words too
beneath       what is knitted beneath an embroidery
asked         what the knitter's own choices ask of the plan
embroidery    what is embroidered afterwards
cautions      which embroideries seldom come out well
small_areas   which areas may be embroidered
neighbours    which runs can feel a choice
totals        what strands come to, all or some
pricing       what the plan would come to with other choices or limits
spots         which stitches of the chart a choice is about
told          choices told by what lies beside them
notes         what the plan tells the knitter about her choices
offers        single choices and what each would save
rounds        what it costs never to turn, and where the round had better begin
trade_off     ends against carries for several limits
programme     the integer programme behind a ceiling
ceiling       never more than so many at once
ways          the mix of supplies as planned and its best alternative, section by section
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.choices.alike import (
        Alike,
        alike_yarns,
    )
    from planner.choices.asked import (
        Asked,
        ask,
        trace_asked,
    )
    from planner.choices.beneath import (
        knit_beneath,
    )
    from planner.choices.cautions import (
        LIGHT_OVER_DARK,
        LONG,
        NO_SOURCE,
        SINGLE_ROW,
        cautions_in_full,
        find_cautions,
    )
    from planner.choices.ceiling import (
        Ceiling,
        keep_under,
    )
    from planner.choices.check import (
        find_issues,
        rows_for,
    )
    from planner.choices.embroidery import (
        Embroidery,
        embroidery_in_full,
        embroidery_in_words,
        lengths_to_embroider,
        measure_embroidery,
    )
    from planner.choices.finding import (
        Finding,
    )
    from planner.choices.notes import (
        notes_on_choices,
    )
    from planner.choices.offers import (
        Offer,
        find_offers,
        offer_table,
        reach,
        worth_embroidering,
    )
    from planner.choices.places import (
        BY_ITSELF,
        REFUSED,
        choice_at,
        choice_in_words,
        choice_of_area,
        find_run,
    )
    from planner.choices.pricing import (
        Price,
        Pricing,
    )
    from planner.choices.rounds import (
        Start,
        begun_at,
        best_start,
        cost_of_rounds,
        find_starts,
        starts_in_words,
    )
    from planner.choices.spots import (
        Spots,
    )
    from planner.choices.told import (
        Told,
        tell_choices,
    )
    from planner.choices.trade_off import (
        beaten,
        carried_in_words,
        ladder,
        limits_in_words,
        one_step_more,
        tradeoff,
    )
    from planner.choices.ways import (
        SHORTEST_BUTTERFLY_CM,
        compare_ways,
    )
    from planner.choices.yarns_to_buy import (
        before_buying,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
