"""The words of written rows: how a line falls into tokens, and what a word can mean.

A word of the craft is never a yarn unless it stands in quotation marks: `3 "BO"`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from planner.errors import PlanError

# Letters of a text in a message.
MOST_OF_A_LINE = 60
MOST_QUOTED = 20
LIKE = 'Write counts and letters, like "10 A, 3 B".'

TOKEN = re.compile(
    r"""
    (?P<blank>\s+)
    | (?P<number>[0-9]+)
    | ["“”„](?P<quoted>[^"“”„]*)["“”„]
    | (?P<word>[^\W\d_]+(?:['’][^\W\d_]+|-[^\W\d_]{2,})*)
    | (?P<stars>\*+)
    | (?P<open>[(\[{])
    | (?P<close>[)\]}])
    | (?P<times>[×✕✖])
    | (?P<mark>.)
    """,
    re.VERBOSE,
)


@cache
def words_of(text: str) -> frozenset[str]:
    """The words of a text as a set."""
    return frozenset(text.split())


# "10xA", "MCx10".
TIMES_SIGN = re.compile(r"(?<=[0-9])x(?=[A-Z])|(?<=[A-Z])x(?=[0-9])")
WITH = re.compile(r"\bw/", re.IGNORECASE)
KNIT = words_of("k knit knitting knits p purl purling purls work works worked working")
IN = words_of("in with using of")
STITCH = words_of("st sts stitch stitches")
AND = words_of("then and next now plus followed by again ending end ends")
# Marks that stand between two runs.
GAPS = frozenset(",;./|&+→>–—-·")
BEGIN_YARN = words_of("join attach change introduce")
YARN = words_of("yarn colour color col shade")
ALL = words_of("all rest remaining rem remainder every whole entire")
ACROSS = words_of("across around round throughout only")
REPEAT = words_of("rep repeat reps repeating repeated")
TIME = words_of("time times x")
IN_ALL = words_of("total altogether")
SMALL = words_of("the to from last until till for at on over more until row rows rnd")
UP_TO_TWELVE = (
    *("one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
NUMBERS = {word: number for number, word in enumerate(UP_TO_TWELVE, start=1)}
TIMES = {"once": 1, "twice": 2, "thrice": 3}
# Techniques, shaping and fabrics: a row that has them is no plain row of colours.
CRAFT = words_of(
    """
    sl slip slipped slwyif slwyib ssk ssp skp sk psso tog yo yon yrn yfwd yfrn wyif wyib
    inc incs increase increases dec decs decrease decreases kfb pfb kb pb rli lli rlinc llinc
    bo co bind cast tbl cable cn pm sm rm marker markers place wrap wraps wt
    pick drop dropped loop loops ktbl ptbl
    rib ribbing garter stockinette stocking seed stst gst needle needles dpn dpns
    bobble bobbles popcorn double crochet chain yarnover skip
    """
)
SIDES = {"rs": "RS", "ws": "WS"}
GRAMMAR = (
    KNIT
    | IN
    | STITCH
    | AND
    | BEGIN_YARN
    | YARN
    | ALL
    | ACROSS
    | REPEAT
    | TIME
    | IN_ALL
    | SMALL
    | set(NUMBERS)
    | set(TIMES)
    | set(SIDES)
    | words_of("no not turn even as set rnds round rounds ridge ridges")
)
# Words that a yarn may have all the same if nothing else can be meant: "3 x", "3 P".
DOUBTFUL_YARNS = words_of("x k p")


def is_taken(word: str) -> bool:
    """Whether a word has a meaning of its own in written rows, so that a yarn needs quotes."""
    lowered = word.lower()
    return lowered in GRAMMAR or any(part in CRAFT for part in lowered.split("-"))


class Token(NamedTuple):
    """A piece of a line: its kind as TOKEN names it, its text, and the number of its line.

    `word`: it in small letters; "" for what is no word. `glued`: nothing stands between it and the
    token before.
    """

    kind: str
    text: str
    word: str
    line: int
    glued: bool


def tokens(text: str, line: int) -> Iterator[Token]:
    """The tokens of one line, blanks left out."""
    glued = False
    text = WITH.sub("with ", TIMES_SIGN.sub("×", text))
    for match in TOKEN.finditer(text):
        kind = match.lastgroup or ""
        if kind == "blank":
            glued = False
            continue
        words = match[kind]
        word = words.lower() if kind == "word" else ""
        yield Token(kind, words, word, line, glued)
        glued = True


def count_in(digits: str, line: int, what: str, *, most: int) -> int:
    """A number that stands in a line, if a piece can have it; `what` says what it counts."""
    # Looked at by its length first: thousands of digits are refused by Python in its own words.
    digits = digits.lstrip("0") or "0"
    if len(digits) > len(str(most)) or int(digits) > most:
        cut = "…" if len(digits) > MOST_QUOTED else ""
        raise PlanError(
            f"Line {line} says {what} {digits[:MOST_QUOTED]}{cut}; it can be {most:,} at most. "
            "Look for a slip in the number."
        )
    return int(digits)
