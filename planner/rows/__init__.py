"""Rows: the piece row by row, as the hands work it.

load          how full each row is
ends          the ends to sew in
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.rows.ends import (
        CAUGHT_OVER,
        Caught,
        End,
        can_be_caught,
        ends_by_area,
        ends_caught,
        ends_table,
        list_ends,
    )
    from planner.rows.load import (
        RowLoad,
        load_by_row,
        load_table,
        runs_by_row,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
