"""Twists: the yarns fed from balls, as they lie round each other between table and needle.

braid         how yarns lie round each other, and whether they are clear
ledger        the balls' yarns as the rows are worked, and how to clear them
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.twists.braid import (
        Braid,
        as_word,
        half_twist,
        linking,
        reduce_word,
    )
    from planner.twists.ledger import (
        Tangle,
        best_row_to_clear,
        ledger_table,
        twist_ledger,
        what_to_do,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
