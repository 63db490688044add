"""Buying: what to own and what to buy.

bobbins       how few bobbins will do, and what else saves winding
balls         the chances that so many balls are enough, and copies of a piece
lots          dye lots kept to separate areas
sums          a quick sum without a chart
weights       yarn by weight: how much is left of a ball
scraps        which strand lies on which part ball, and what is left to buy
enough        whether there is enough: shopping list, basket, will-it-last, and why they differ
fitting       that fit: the integer programme
sharing       which piece comes from which lot: the integer programme
rules         unknowns and rules of such a programme
purse         several pieces, one purse: what a set takes, what to buy, which lots
same_yarns    which yarns of several pieces are one, and what is asked before they are
lots_of_set   which piece of a set comes from which lot: the integer programme
purse_lists   the lists of a set
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.buying.balls import (
        balls_table,
        copies,
        copies_table,
        mirrored,
        odd_metres,
        shop_for,
    )
    from planner.buying.bobbins import (
        bobbin_table,
        both_ends,
        most_at_once,
        pieces_of,
        reuse_leftovers,
        splices,
        winding_stops,
    )
    from planner.buying.enough import (
        BASKET,
        LASTS,
        LIST,
        Enough,
        enough_of,
    )
    from planner.buying.lots import (
        LotShare,
        share_lots,
    )
    from planner.buying.purse import (
        Member,
        Purse,
        fill_purse,
        plans_in_order,
    )
    from planner.buying.purse_lists import (
        buy_in_words,
        by_piece_table,
        is_of_several_lots,
        lot_of_pieces,
        lots_in_words,
        member_in_words,
        purse_in_words,
        set_shopping_list,
        singly_in_words,
        taken_table,
        used_table,
    )
    from planner.buying.same_yarns import (
        Question,
        Use,
        yarns_of_set,
    )
    from planner.buying.scraps import (
        Basket,
        basket_table,
        fill_baskets,
    )
    from planner.buying.sharing import (
        Share,
        best_share,
    )
    from planner.buying.sums import (
        QuickSum,
        quick_sum,
    )
    from planner.buying.weights import (
        WeighedYarn,
        weighed,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
