"""Written rows: a chart as a pattern writes it, and such text read as a chart.

Rows are in working order, each in the direction of its construction: "Row 5 (RS): 10 A, 3 B, 19 A".
Read are also "Rows 5–8", "(3 A, 2 B) 4 times", "*3 A, 2 B; repeat from * 3 more times" or "to end",
and a total in brackets at the end. Garter has one line a ridge, as its first row is worked.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from itertools import groupby

from planner.errors import PlanError
from planner.guards import (
    LONGEST_LINE,
    MOST_IN_ALL,
    MOST_LETTERS_OF_ROWS,
    MOST_ROWS,
    MOST_STITCHES,
    check_amount,
)
from planner.piece import NO_STITCH, Chart, Construction

NO_STITCH_WORDS = "no stitch"
# "Rows 5 to 8 (RS): 10 A, 3 B (13 sts)": last row, side and total may be missing.
WRITTEN_ROW = re.compile(
    r"(?:rows?|rounds?|ridges?)\s+(?P<first>\d+)(?:\s*(?:[-–—]|to)\s*(?P<last>\d+))?\s*"
    r"(?:\((?P<side>RS|WS)\)|(?P<bare_side>RS|WS))?\s*:\s*(?P<runs>.*?)\s*"
    r"(?:[(–—-]\s*(?P<total>\d+)\s*(?:sts?|stitches)\s*\)?)?\s*\.?",
    re.IGNORECASE,
)
# The next piece of a line: a repeat from *, a bracket, a star, "2 no sts", "10 A", a comma, "A10".
# Counts come before words, so that a yarn may be called "and".
TOKEN = re.compile(
    r"\s*(?:(?P<repeat>rep(?:eat)?\s+from\s+\*\s*"
    r"(?:(?:to\s+(?P<end>end)(?:\s+of\s+(?:row|round))?)"
    r"|(?P<more>\d+|once|twice)(?:\s+(?:more\s+)?times?|\s+more)?))"
    r"|(?P<open>[(\[])"
    r"|(?P<close>[)\]])\s*(?:[x×]\s*)?(?P<times>\d+|once|twice)(?:\s*times)?"
    r"|(?P<star>\*)"
    r"|(?P<none>\d+)\s*no[ -]st(?:s|itch|itches)?\b"
    r"|(?P<count>\d+)\s*(?P<letter>[^\W\d_]{1,3})\b"
    r"|(?P<gap>[,;.]|then\b|and\b)"
    r"|(?P<letter2>[^\W\d_]{1,3})\s*(?P<count2>\d+))",
    re.IGNORECASE,
)
TO_END = "*"  # no yarn can be called this
TIMES = {"once": 1, "twice": 2}
# Letters of a text in a message.
MOST_OF_A_LINE = 60
MOST_QUOTED = 20


def _working_order(how: Construction, chart_row: int) -> int:
    """1 if the line of a chart row (from 0) reads from the left of the chart, −1 from the right."""
    row = chart_row * how.rows_per_chart_row
    return -1 if how.runs_leftwards(row) else 1


def _row_title(how: Construction, chart_row: int) -> str:
    if how.fabric == "garter":
        return f"Ridge {chart_row + 1}"
    # No ridges here, so a chart row is a worked row.
    name = how.row_name(chart_row)
    return name[0].upper() + name[1:]


def write_rows(chart: Chart, how: Construction) -> str:
    """The chart in written rows, first row first, one line a row (garter: a ridge)."""
    lines = []
    # A chart gives its top row first, which is worked last.
    rows = reversed(chart.to_rows())
    for number, cells in enumerate(rows):
        in_order = cells[:: _working_order(how, number)]
        runs = []
        for letter, same in groupby(in_order):
            count = len(list(same))
            what = NO_STITCH_WORDS if letter == NO_STITCH else letter
            runs.append(f"{count} {what}")
        title = _row_title(how, number)
        lines.append(f"{title}: {', '.join(runs)}")
    return "\n".join(lines) + "\n"


@dataclass
class WrittenRow:
    """One chart row as it was read.

    Its cells in working order, the number of its line, and the stitches that the line says it has.
    """

    cells: list[str]
    line: int
    stated: int | None = None


def read_rows(
    text: str,
    how: Construction,
    *,
    yarns: Collection[str] | None = None,
) -> Chart:
    """The chart that written rows describe. With `yarns` given, any other letter is refused."""
    check_amount(len(text), "The text of written rows", most=MOST_LETTERS_OF_ROWS, what="letters")
    rows: dict[int, WrittenRow] = {}
    stitches = 0
    for number, line in enumerate(text.splitlines(), start=1):
        check_amount(len(line), f"Line {number}", most=LONGEST_LINE, what="letters")
        # One blank between words: the search for a row's end would try each of many.
        words = " ".join(line.split())
        if not words:
            continue
        stitches += _read_line(words, number, how, rows, yarns=yarns)
        check_amount(stitches, "The text of written rows", most=MOST_IN_ALL, what="stitches")
    _check_complete(rows)

    # Rows that repeat to their end are as wide as the others.
    width = _width(rows)
    for row, written in rows.items():
        if TO_END in written.cells:
            written.cells = _fill(written.cells, width, written.line)
        _check_width(row, written, width)

    # A chart is given top row first, which is worked last.
    ordered = []
    for row in sorted(rows, reverse=True):
        cells = rows[row].cells
        ordered.append(cells[:: _working_order(how, row)])
    return Chart.from_rows(ordered, source="Written rows:")


def has_written_rows(text: str) -> bool:
    """Whether any line of a text is a written row; False for a text that is too long to look at."""
    if len(text) > MOST_LETTERS_OF_ROWS:
        return False
    lines = text.splitlines()
    short = (" ".join(line.split()) for line in lines if len(line) <= LONGEST_LINE)
    return any(WRITTEN_ROW.fullmatch(line) for line in short)


def _check_complete(rows: dict[int, WrittenRow]) -> None:
    """Refuse rows with one missing below the last."""
    if not rows:
        raise PlanError('There are no written rows. Write one row a line, like "Row 1 (RS): 32 A".')
    number = max(rows) + 1
    for row in range(number):
        if row not in rows:
            raise PlanError(f"Row {row + 1} is missing; rows 1 to {number} are needed.")


def _read_line(
    text: str,
    line: int,
    how: Construction,
    rows: dict[int, WrittenRow],
    *,
    yarns: Collection[str] | None,
) -> int:
    """Add the rows that one line writes to `rows`, by chart row from 0; returns their stitches."""
    match = WRITTEN_ROW.fullmatch(text)
    if not match:
        raise PlanError(
            f'Line {line}, "{text[:MOST_OF_A_LINE]}", is no written row. '
            'Write it like "Row 5 (RS): 10 A, 3 B, 19 A".'
        )
    # A line for one row is one from that row to itself.
    first = _count(match["first"], line, "row", most=MOST_ROWS)
    last = _count(match["last"] or match["first"], line, "row", most=MOST_ROWS)
    side = match["side"] or match["bare_side"] or ""
    side = side.upper()
    if not 1 <= first <= last:
        raise PlanError(f"Line {line} is for rows {first} to {last}; rows count upwards from 1.")
    for row in range(first - 1, last):
        if row in rows:
            raise PlanError(
                f"Line {line} writes row {row + 1} once more; "
                f"it stands on line {rows[row].line} already."
            )
        worked = how.side(row * how.rows_per_chart_row)
        # A line for several rows may be worked from both sides, whatever it says.
        if side and first == last and side != worked:
            raise PlanError(
                f"Line {line} calls row {row + 1} a {side} row, but as the piece is worked it is "
                f"{worked}. Correct the line, or the first row of the construction."
            )
    cells = _Line(line, yarns).cells(match["runs"])
    stated = None
    if match["total"]:
        stated = _count(match["total"], line, "total", most=MOST_STITCHES)
    for row in range(first - 1, last):
        rows[row] = WrittenRow(list(cells), line, stated)
    return len(cells) * (last - first + 1)


def _count(digits: str, line: int, what: str, *, most: int) -> int:
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


def _width(rows: dict[int, WrittenRow]) -> int:
    """The width that most rows have, of those that say it."""
    widths = []
    for row in rows.values():
        if TO_END not in row.cells:
            widths.append(len(row.cells))
    if not widths:
        raise PlanError(
            "Every row repeats to its end, so nobody can tell how wide the piece is. "
            "Write one row out."
        )
    # The odd one out is named in a message, not taken for the width.
    return max(set(widths), key=widths.count)


def _check_width(row: int, written: WrittenRow, width: int) -> None:
    line, stated = written.line, written.stated
    count = len(written.cells)
    # Places without a stitch take room in the chart, but nobody counts them.
    total = count - written.cells.count(NO_STITCH)
    if stated not in (None, total):
        raise PlanError(
            f"Line {line} says {stated} stitches, but its runs add up to {total}. Count it again."
        )
    if count != width:
        raise PlanError(
            f"Line {line}: row {row + 1} has {count} stitches, the others {width}. "
            "Count its runs and repeats again."
        )


@dataclass
class _Line:
    """The runs of one line read from left to right.

    `open` holds the cells of the line, and of each bracket that is open within it; `star` where the
    part to repeat begins.
    """

    number: int
    yarns: Collection[str] | None
    open: list[list[str]] = field(default_factory=lambda: [[]])
    star: int | None = None

    def cells(self, text: str) -> list[str]:
        """Its cells in working order, with TO_END before and after a part repeated to the end."""
        for token in self._tokens(text):
            if token["open"]:
                self.open.append([])
            elif token["close"]:
                self._close(token["times"])
            elif token["star"]:
                self.star = len(self.open[-1])
            elif token["repeat"]:
                self._repeat(token)
            elif not token["gap"]:
                self._add_run(token)
        if len(self.open) > 1:
            raise PlanError(
                f"Line {self.number}: a bracket is opened but never closed, "
                "or its number of times is missing."
            )
        return self.open[0]

    def _tokens(self, text: str) -> Iterator[re.Match[str]]:
        at = 0
        while at < len(text.rstrip()):
            token = TOKEN.match(text, at)
            if not token:
                rest = text[at : at + MOST_QUOTED]
                raise PlanError(
                    f'Line {self.number}: "{rest.strip()}" cannot be read. '
                    'Write counts and letters, like "10 A, 3 B".'
                )
            at = token.end()
            yield token

    def _close(self, times: str) -> None:
        if len(self.open) == 1:
            raise PlanError(f"Line {self.number}: a bracket closes that was never opened.")
        # What a bracket holds goes into the one round it, or into the line itself.
        inner = self.open.pop()
        self._add(inner, times)

    def _repeat(self, token: re.Match[str]) -> None:
        if self.star is None or len(self.open) > 1:
            raise PlanError(f'Line {self.number}: "repeat from *", but there is no * before it.')
        cells = self.open[-1]
        part = cells[self.star :]
        # How often that is, is known when the other rows have been read.
        if token["end"]:
            cells[self.star :] = [TO_END, *part, TO_END]
        else:
            self._add(part, token["more"])
        self.star = None

    def _add_run(self, token: re.Match[str]) -> None:
        letter = token["letter"] or token["letter2"] or NO_STITCH
        # Checked here, where the line is known; a chart would not know it.
        is_yarn = letter != NO_STITCH
        if is_yarn and self.yarns is not None and letter not in self.yarns:
            raise PlanError(
                f"Line {self.number} names the yarn {letter}, "
                f"which is not among {', '.join(self.yarns)}."
            )
        count = token["count"] or token["count2"] or token["none"]
        self._add([letter], count)

    def _add(self, cells: list[str], times: str) -> None:
        """Add cells so many times to what is open, as long as a row can hold them."""
        word = times.lower()
        number = TIMES.get(word) or _count(word, self.number, "number", most=MOST_STITCHES)
        held = self.open[-1]
        # Reckoned before it is written out: repeats in repeats grow without end.
        count = len(held) + number * len(cells)
        check_amount(count, f"Line {self.number}", most=MOST_STITCHES, what="stitches")
        held.extend(cells * number)


def _fill(cells: list[str], width: int, line: int) -> list[str]:
    """A line with a part repeated to the end of the row, at the row's width."""
    first = cells.index(TO_END)
    last = cells.index(TO_END, first + 1)
    before = cells[:first]
    part = cells[first + 1 : last]
    after = cells[last + 1 :]
    left = width - len(before) - len(after)
    size = len(part)
    # A second part repeated to the end would leave it open how often each is.
    if TO_END in after or not part or left < size or left % size:
        raise PlanError(
            f"Line {line}: {size} stitches repeated to the end do not fit the {left} "
            f"that are left of {width}. Count the others again."
        )
    times = left // size
    return before + part * times + after
