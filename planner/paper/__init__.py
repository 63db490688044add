"""Paper: what leaves the screen.

page          the row cards as one HTML file, for a phone beside the needles
together      the sheet and the cards page, made together
tables        all tables of a plan, for other programs
sheet         the plan as one PDF, set by Typst from the template sheet.typ
first_page    the piece at a glance: its yarns, what to have ready, how sure the lengths are
chart_pages   the chart over as many pages as are legible, and the map of its strands
finishing_page
              what is left to do off the needles, as a PDF
for_others    a pattern or a handout as a PDF
setter        pages set by Typst from a template
papers        the sizes of paper, and the room on them
drawing       charts as drawings of lines and plain fills (SVG)
lists         what to wind, tags to tie on, what to buy, which ends to sew in
row_cards     a card for each row, to be ticked
signs         which signs can be printed, and what is printed where one cannot
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.paper.finishing_page import (
        FINISHING,
        finishing_files,
    )
    from planner.paper.for_others import (
        HANDOUT,
        HANDOUT_TEXT,
        PATTERN,
        PATTERN_TEXT,
        handout_files,
        pattern_files,
    )
    from planner.paper.page import (
        cards_page,
    )
    from planner.paper.papers import (
        PAPERS,
    )
    from planner.paper.sheet import (
        SHEET,
        sheet_pdf,
    )
    from planner.paper.tables import (
        TABLES,
        csv_of,
        tables_of,
    )
    from planner.paper.together import (
        CARDS,
        all_papers,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
