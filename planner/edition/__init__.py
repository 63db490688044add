"""Edition: a piece for others, a pattern or a handout for a class, with nothing private in it.

edition       the records of an edition, made from a plan
lengths       lengths in stitches of yarn, for every hand
amounts       what each yarn is, and how much of it other hands take
words         standard abbreviations and weights of yarn
size          how wide and how high a piece is
blocks        what a document consists of
sums          the list of lengths, and the sum that makes a length
pattern       an edition as a document
practice      a small chart of the techniques that a class is to try
lesson        that chart for a class, tried in each way of holding yarn
handout       a lesson as a document
plain         a document as plain text
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.edition.blocks import (
        Block,
        ChartHere,
        Document,
        Items,
        Key,
        Steps,
        Table,
        Words,
    )
    from planner.edition.edition import (
        for_others,
        make_edition,
    )
    from planner.edition.handout import (
        handout_of,
    )
    from planner.edition.lengths import (
        lengths_in_stitches,
    )
    from planner.edition.lesson import (
        MOST_STUDENTS,
        Lesson,
        make_lesson,
    )
    from planner.edition.pattern import (
        pattern_of,
    )
    from planner.edition.plain import (
        NUMBER,
        plain_text,
    )
    from planner.edition.practice import (
        IN_WORDS,
        TECHNIQUES,
        practice_piece,
    )
    from planner.edition.size import (
        WORKED,
        size_in_words,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
