"""What a written row says: its runs, or that it goes like other rows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from planner.charts.written_runs import Node, runs_of
from planner.charts.written_words import count_in, words_of
from planner.guards import MOST_ROWS

# A row in the colours of the row below: words that may stand in such a sentence, and those one of
# which makes it so.
AS_SET_WORDS = words_of(
    """
    work working works knit knitting knits purl purling purls k p all sts st stitches stitch across
    each every in with the its same as colours colors colour color set established est appear
    appears they it present presented presents themselves itself facing even of row rows below
    pattern patt keeping stand stands now and to end yarn yarns before previous prev is are for
    continue cont straight matching you them on round matched previously last own correct face
    following using stockinette stocking
    """
)
AS_SET_KEYS = words_of(
    """
    set established est appear appears present presented presents even straight matching stand
    stands below same matched own correct face pattern patt
    """
)
ROW_WORDS = r"(?:rows?|rounds?|rnds?|ridges?|rds?)"
AS_ROWS = re.compile(
    r"(?:(?:work|knit|purl|k|p|worked)\s+)?"
    r"(?:(?:as|like)(?:\s+(?:for|given\s+for|in))?|same\s+as(?:\s+for)?|rep(?:eat)?)"
    rf"\s+{ROW_WORDS}?\s*(?P<first>\d+)(?:st|nd|rd|th)?"
    r"(?:\s*(?:[-–—]|to|and|&|through)\s*(?P<last>\d+)(?:st|nd|rd|th)?)?"
    rf"(?:\s+{ROW_WORDS})?"
    # How often is told by the rows that the line is for.
    r"(?:\s+(?:\d+|once|twice|two|three|four|five|six|more|again|times?|in|all))*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Body:
    """What a row says: its parts in working order, or that it goes like others.

    `total` the stitches that it says it has; `as_set` in the colours of the row below; `as_rows`
    first and last of the rows that it repeats; `textured` that it both knits and purls.
    """

    parts: tuple[Node, ...] = ()
    total: int | None = None
    as_set: bool = False
    as_rows: tuple[int, int] | None = None
    textured: bool = False


def body_of(pieces: Sequence[tuple[int, str]]) -> Body:
    """What the text of a row says; `pieces` are its stretches with the number of their line."""
    text = " ".join(words for _, words in pieces)
    text = text.strip(". ")
    words = set(re.findall(r"[^\W\d_]+", text.lower()))
    has_runs = re.search(r"[\d*(\[]", text)
    if words <= AS_SET_WORDS and words & AS_SET_KEYS and not has_runs:
        return Body(as_set=True)
    same = AS_ROWS.fullmatch(text)
    if same:
        line = pieces[0][0]
        first = count_in(same["first"], line, "row", most=MOST_ROWS)
        last = count_in(same["last"] or same["first"], line, "row", most=MOST_ROWS)
        return Body(as_rows=(first, last))
    runs = runs_of(pieces)
    return Body(runs.parts, runs.total, textured=runs.textured)
