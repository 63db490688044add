"""Twists: the yarns fed from balls, as they lie round each other between table and needle.

braid         how yarns lie round each other, and whether they are clear
balls         the balls' yarns as the rows are worked: where they hang, how they cross
fewest        the fewest hand moves that keep the yarns within what they may hold
clearing      after which rows the moves are made
hints         where a ball would leave no turn, begun a row later
words         what is said of balls, for either hand, and what the log says
advice        what to do about the balls, row by row
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.twists.advice import (
        BallAdvice,
        advise,
        clearings_in_words,
        said_before_cards,
    )
    from planner.twists.balls import (
        Move,
    )
    from planner.twists.braid import (
        Braid,
        as_word,
        half_twist,
        linking,
        reduce_word,
    )
    from planner.twists.words import (
        ALL_CLEAR,
        Laid,
        Stay,
        Words,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
