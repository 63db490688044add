"""Cards: what the hands do in each worked row, in words that can be followed one by one.

cards         the card of each row, and those of casting on and binding off
phrases       what is said at each run
carries       where carried yarn is caught
legs          where it lies behind the work
casting_on    the length for casting on all in one yarn
cutting       what is cut off a ball before the ball is in use
how_to        how each kind of supply is wound
stitches      whether a row is knitted or purled
words         the words of the cards, explained
shaping       what a row takes off the stitches of the row before, and adds
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.cards.cards import (
        Card,
        Cards,
        Line,
        make_cards,
    )
    from planner.cards.casting_on import (
        cast_on_piece,
    )
    from planner.cards.cutting import (
        pieces_in_time,
        ready_before,
    )
    from planner.cards.how_to import (
        HOW_TO,
    )
    from planner.cards.legs import (
        Leg,
        Legs,
    )
    from planner.cards.phrases import (
        HANGS_NEAR,
        Need,
        embroidered_in_words,
        how_to_cross,
    )
    from planner.cards.words import (
        words_of_cards,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
