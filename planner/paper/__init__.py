"""Paper: what leaves the screen.

page          the row cards as one HTML file, for a phone beside the needles
tables        all tables of a plan, for other programs
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.paper.page import (
        cards_page,
    )
    from planner.paper.tables import (
        TABLES,
        csv_of,
        tables_of,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
