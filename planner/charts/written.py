"""Written rows: a chart as a pattern writes it, and such text read as a chart.

Rows are in working order, each in the direction of its construction: "Row 5 (RS): 10 A, 3 B, 19 A". Read are also
"Rows 5–8", "(3 A, 2 B) 4 times", "*3 A, 2 B; repeat from * 3 more times" or "to end", and a total in brackets at the
end. Garter has one line a ridge, as its first row is worked.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from itertools import groupby

from planner.errors import PlanError
from planner.piece import NO_STITCH, Chart, Construction

NO_STITCH_WORDS = "no stitch"
LINE = re.compile(
    r"(?:rows?|rounds?|ridges?)\s+(\d+)(?:\s*(?:[-–—]|to)\s*(\d+))?\s*(?:\((RS|WS)\)|(RS|WS))?\s*:\s*(.*?)\s*"
    r"(?:[(–—-]\s*(\d+)\s*(?:sts?|stitches)\s*\)?)?\s*\.?",
    re.IGNORECASE,
)
TOKEN = re.compile(
    r"\s*(?:(?P<repeat>rep(?:eat)?\s+from\s+\*\s*(?:(?:to\s+(?P<end>end)(?:\s+of\s+(?:row|round))?)"
    r"|(?P<more>\d+|once|twice)(?:\s+(?:more\s+)?times?|\s+more)?))"
    r"|(?P<open>[(\[])|(?P<close>[)\]])\s*(?:[x×]\s*)?(?P<times>\d+|once|twice)(?:\s*times)?|(?P<star>\*)"
    r"|(?P<none>\d+)\s*no[ -]st(?:s|itch|itches)?\b|(?P<count>\d+)\s*(?P<letter>[^\W\d_]{1,3})\b"
    r"|(?P<gap>[,;.]|then\b|and\b)|(?P<letter2>[^\W\d_]{1,3})\s*(?P<count2>\d+))",
    re.IGNORECASE,
)
TO_END = "*"  # no yarn can be called this
TIMES = {"once": 1, "twice": 2}


def _working_order(how: Construction, chart_row: int) -> int:
    """1 if the line of a chart row (from 0) reads from the left of the chart, −1 if from the right."""
    return -1 if how.runs_leftwards(chart_row * how.rows_per_chart_row) else 1


def _name(how: Construction, chart_row: int) -> str:
    if how.fabric == "garter":
        return f"Ridge {chart_row + 1}"
    return (
        f"Round {chart_row + 1}"
        if how.in_rounds
        else f"Row {chart_row + 1} ({how.side(chart_row)})"
    )


def write_rows(chart: Chart, how: Construction) -> str:
    """The chart in written rows, first row first, one line a row (garter: a ridge)."""
    lines = []
    for number, cells in enumerate(reversed(chart.to_rows())):
        in_order = cells[:: _working_order(how, number)]
        runs = [(letter, len(list(same))) for letter, same in groupby(in_order)]
        said = ", ".join(
            f"{n} {NO_STITCH_WORDS if letter == NO_STITCH else letter}" for letter, n in runs
        )
        lines.append(f"{_name(how, number)}: {said}")
    return "\n".join(lines) + "\n"


def read_rows(text: str, how: Construction, *, yarns: Collection[str] | None = None) -> Chart:
    """The chart that written rows describe. With `yarns` given, any other letter is refused."""
    rows: dict[
        int, tuple[list[str], int]
    ] = {}  # by chart row from 0: cells in working order, the number of its line
    open_ended: list[int] = []
    stated: dict[int, int] = {}  # stitches that a line says it has
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        match = LINE.fullmatch(line.strip())
        if not match:
            said = line.strip()[:60]
            raise PlanError(
                f'Line {number}, "{said}", is no written row. Write it like "Row 5 (RS): 10 A, 3 B, 19 A".'
            )
        first, last, side = (
            int(match[1]),
            int(match[2] or match[1]),
            (match[3] or match[4] or "").upper(),
        )
        if not 1 <= first <= last:
            raise PlanError(
                f"Line {number} is for rows {first} to {last}; rows count upwards from 1."
            )
        for row in range(first - 1, last):
            if row in rows:
                raise PlanError(
                    f"Line {number} writes row {row + 1} once more; it stands on line {rows[row][1]} already."
                )
            worked = how.side(row * how.rows_per_chart_row)
            if side and first == last and side != worked:
                raise PlanError(
                    f"Line {number} calls row {row + 1} a {side} row, but as the piece is worked it is {worked}. "
                    "Correct the line, or the first row of the construction."
                )
            rows[row] = (_cells(match[5], number, yarns), number)
            if match[6]:
                stated[row] = int(match[6])
            if TO_END in rows[row][0]:
                open_ended.append(row)
    if not rows:
        raise PlanError('There are no written rows. Write one row a line, like "Row 1 (RS): 32 A".')
    missing = next((row for row in range(max(rows) + 1) if row not in rows), None)
    if missing is not None:
        raise PlanError(f"Row {missing + 1} is missing; rows 1 to {max(rows) + 1} are needed.")
    widths = [len(cells) for row, (cells, _) in rows.items() if row not in open_ended]
    if not widths:
        raise PlanError(
            "Every row repeats to its end, so nobody can tell how wide the piece is. Write one row out."
        )
    width = max(set(widths), key=widths.count)
    for row, (cells, number) in rows.items():
        if row in open_ended:
            cells = _fill(cells, width, number)
            rows[row] = (cells, number)
        total = len(cells) - cells.count(NO_STITCH)
        if stated.get(row, total) != total:
            raise PlanError(
                f"Line {number} says {stated[row]} stitches, but its runs add up to {total}. Count it again."
            )
        if len(cells) != width:
            raise PlanError(
                f"Line {number}: row {row + 1} has {len(cells)} stitches, the others {width}. Count its runs and repeats again."
            )
    ordered = [rows[row][0][:: _working_order(how, row)] for row in sorted(rows, reverse=True)]
    return Chart.from_rows(ordered, source="Written rows:")


def _cells(text: str, line: int, yarns) -> list[str]:
    """The cells of one line in working order; TO_END stands before and after a part repeated to the end of the row."""
    stack: list[list[str]] = [[]]
    star: int | None = None
    at = 0
    while at < len(text.rstrip()):
        match = TOKEN.match(text, at)
        if not match:
            said = text[at : at + 20].strip()
            raise PlanError(
                f'Line {line}: "{said}" cannot be read. Write counts and letters, like "10 A, 3 B".'
            )
        at = match.end()
        here = stack[-1]
        if match["gap"]:
            continue
        if match["open"]:
            stack.append([])
        elif match["close"]:
            if len(stack) == 1:
                raise PlanError(f"Line {line}: a bracket closes that was never opened.")
            times = TIMES.get(match["times"].lower()) or int(match["times"])
            inner = stack.pop()
            stack[-1].extend(inner * times)
        elif match["star"]:
            star = len(here)
        elif match["repeat"]:
            if star is None or len(stack) > 1:
                raise PlanError(f'Line {line}: "repeat from *", but there is no * before it.')
            part = here[star:]
            if match["end"]:
                here[star:] = [TO_END, *part, TO_END]
            else:
                here.extend(part * (TIMES.get(match["more"].lower()) or int(match["more"])))
            star = None
        else:
            letter = NO_STITCH if match["none"] else match["letter"] or match["letter2"]
            if yarns is not None and letter != NO_STITCH and letter not in yarns:
                raise PlanError(
                    f"Line {line} names the yarn {letter}, which is not among {', '.join(yarns)}."
                )
            here.extend([letter] * int(match["none"] or match["count"] or match["count2"]))
    if len(stack) > 1:
        raise PlanError(
            f"Line {line}: a bracket is opened but never closed, or its number of times is missing."
        )
    return stack[0]


def _fill(cells: list[str], width: int, line: int) -> list[str]:
    """A line with a part repeated to the end of the row, at the row's width."""
    first = cells.index(TO_END)
    last = cells.index(TO_END, first + 1)
    before, part, after = cells[:first], cells[first + 1 : last], cells[last + 1 :]
    rest = width - len(before) - len(after)
    if TO_END in after or not part or rest < len(part) or rest % len(part):
        raise PlanError(
            f"Line {line}: {len(part)} stitches repeated to the end do not fit the {rest} that are left of {width}. "
            "Count the others again."
        )
    return before + part * (rest // len(part)) + after
