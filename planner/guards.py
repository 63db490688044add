"""Guards: how much may come in, every limit in one place; and that nothing goes out as a formula.

A number of twelve signs can stand for more digits than a computer holds, a few kilobytes can unpack
to gigabytes, a line can repeat without end. So each size is checked before any work on it begins,
and what is too much is refused in words: what, where, how much there may be, what to do. The limits
are far above what anybody knits; a workbook of the largest chart takes a few seconds to read.
"""

from __future__ import annotations

import re

from planner.errors import PlanError

# Numbers, as they are typed or stand in a file.
MOST_SIGNS = 40  # of one number
MOST_ZEROS = 30  # the largest power of ten, up or down
MOST_NUMBER = 1e9  # of anything that is counted or measured

# Charts. A blanket of 180 × 240 cm at 25 stitches in 10 cm has 450 × 850.
MOST_STITCHES = 1_000  # in a row
MOST_ROWS = 2_000
MOST_IN_ALL = 400_000  # stitches of a chart
MOST_YARNS = 60  # more than any piece has; a picture in cells has hundreds

# Text files: the chart, the yarns, the logs; and piece.toml.
MOST_BYTES = 16_000_000
MOST_CELLS_OF_TEXT = 2_000_000
MOST_LINES = 200_000
MOST_WEIGHTS = 1_000  # of part balls, in one cell
MOST_BYTES_OF_SETTINGS = 50_000
MOST_LETTERS_OF_A_SETTING = 1_000
MOST_POINTS_OF_A_LINE = 50  # "a.b.c" is a table in a table to TOML
LONGEST_COLOUR = 100  # letters

# A set of pieces: a blanket of 10 × 10 squares, each a piece of its own.
MOST_PIECES_OF_A_SET = 100
MOST_TIMES = 60  # that one piece is knitted
MOST_ANSWERS = 300  # about yarns of a set

# Written rows.
MOST_LETTERS_OF_ROWS = 4_000_000
LONGEST_LINE = 20_000  # letters: 1,000 runs of "1 no stitch"

# Pictures. What a file says of itself is looked at before a pixel is.
MOST_PIXELS = 70_000_000
MOST_PIXELS_A_SIDE = 30_000
MOST_BYTES_OF_A_PICTURE = 200_000_000
MOST_BYTES_OF_A_DRAWING = 20_000_000
MOST_PAGES = 400  # of a PDF

# Workbooks. The area of a sheet that is read: more than the largest chart with its rulers and
# notes. Of all sheets together twice as much is laid out, blank cells too.
ROWS_READ, COLUMNS_READ = 2_999, 1_250
MOST_SPANNED = 2 * ROWS_READ * COLUMNS_READ
# In bytes: all of a workbook unpacked; any part but a sheet; one tag.
MOST_UNPACKED = 2**28
MOST_IN_A_PART = 2**26
MOST_IN_A_TAG = 2**22
MOST_PARTS = 10_000
# Of all tags, dropped ones too: their number, how many stand within each other, different names.
MOST_TAGS = 4_000_000
MOST_NESTED = 10_000
MOST_NAMES = 10_000
# Of what passes, in all sheets of a workbook.
MOST_CELLS = 450_000  # the largest chart with its rulers and notes
MOST_INLINE = 150_000  # texts within cells, which openpyxl is slow to read
MOST_TEXTS = 50_000
MOST_LETTERS = 20_000_000
MOST_FORMATS = 65_490  # as many as Excel keeps (from memory)
MOST_SHEETS = 1_000
MOST_MERGED = 50_000
MOST_DEFINED = 100  # names for the cells of a chart
MOST_COLUMN_TAGS = 16_384  # as many as a sheet has columns
MOST_FILLS = 300  # different ones in one chart, near shades too
MOST_RULERS = 1_000  # stretches of a page that count

# What a spreadsheet takes for a formula: text that begins with one of these signs, the wide ones of
# East Asia too. It may also break a text at the signs that stand between cells elsewhere.
FORMULA = re.compile(r"(^|[,;\t\r\n])(\s*)(?=[=+\-@＝＋－＠])")


def check_chart(stitches: int, rows: int, source: str) -> None:
    """Refuse a chart that is larger than any piece; `source` names it in the error."""
    if stitches <= MOST_STITCHES and rows <= MOST_ROWS and stitches * rows <= MOST_IN_ALL:
        return
    raise PlanError(
        f"{source} is of {stitches:,} × {rows:,} stitches and rows. A chart has at most "
        f"{MOST_STITCHES:,} × {MOST_ROWS:,} here, and {MOST_IN_ALL:,} stitches in all. Plan a "
        "larger piece in parts."
    )


def check_yarns(count: int, source: str) -> None:
    """Refuse a chart in more yarns than anybody knits."""
    if count > MOST_YARNS:
        raise PlanError(
            f"{source} has {count:,} different letters, more yarns than anybody knits (at most "
            f"{MOST_YARNS} here). Each cell holds one yarn's letter: take out what is no chart."
        )


def check_amount(amount: int, name: str, *, most: int = MOST_BYTES, what: str = "bytes") -> None:
    """Refuse a file, or a part of one, that holds more than such a one of any piece."""
    if amount > most:
        raise PlanError(
            f"{name} has {amount:,} {what}; at most {most:,} are taken here. Look for a slip, or "
            "take out what is too much."
        )


def check_digits(text: str, what: str) -> None:
    """Refuse a number that would fill the memory or is too long to be meant."""
    _, _, power = text.lower().partition("e")
    # Only the length of the power is looked at first: it may itself be long.
    digits = power.replace("_", "").lstrip("+-0")
    too_high = digits.isdecimal() and (len(digits) > 4 or int(digits) > MOST_ZEROS)
    if too_high:
        raise PlanError(
            f'{what} is "{text}", which is too large or too small to be meant. Write the number '
            "out, such as 12.5."
        )
    if len(text) > MOST_SIGNS:
        raise PlanError(
            f'{what} is "{text[:MOST_SIGNS]}…", {len(text):,} signs long. A number has at most '
            f"{MOST_SIGNS}: write it shorter, such as 12.5."
        )


def guarded(text: str) -> str:
    """The text with an apostrophe before whatever a spreadsheet would take for a formula."""
    return FORMULA.sub(r"\1\2'", text)
