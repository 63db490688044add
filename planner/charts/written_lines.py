"""The lines of a text of written rows, sorted by what they are.

A line begins a row, goes on with the row before, repeats rows, says something of all rows (yarns,
size, direction), or is left out: a heading, what is cast on before and cast off after the rows.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from planner.charts.written_titles import Title, title_of
from planner.charts.written_words import (
    CRAFT,
    KNIT,
    MOST_OF_A_LINE,
    NUMBERS,
    REPEAT,
    TIMES,
    count_in,
    is_taken,
)
from planner.errors import PlanError
from planner.guards import (
    LONGEST_LINE,
    MOST_LETTERS_OF_ROWS,
    MOST_ROWS,
    MOST_STITCHES,
    check_amount,
)

MOST_OTHERS = 1_000  # lines that are no rows; a book is no chart
MOST_CAST_ON = 10_000
LIKE_ROW = 'Write it like "Row 5 (RS): 10 A, 3 B, 19 A".'
DRAWING = re.compile(r"\s*<(?:\?xml|svg|!doctype|html)", re.IGNORECASE)

# A line goes on after one of these, or if it begins with one of those.
OPEN_END = re.compile(
    r"(?:[,;:(\[{*+&–—-]|\b(?:and|then|in|with|of|to|from|rep|repeat|last|k|p))$", re.I
)
BEGINS_A_RUN = re.compile(
    r"""["“(\[{*]|\d+\s*(?:["“(\[×]|[^\W\d_])|[kp]\s?\d"""
    r"|(?:to\s+end|rep(?:eat)?\s+from|then|and)\b"
    r"|(?:in|with|to)\s|[^\W\d_]{1,3}\s?\d+\b|[^\W\d_]{1,3}\s*[,;.]",
    re.IGNORECASE,
)
# "… 3 B. Row 2: …": several rows in one line.
ROW_IN_A_LINE = re.compile(
    r"(?<=[.;,)\]])\s+(?=(?:rows?|rnds?|rounds?|ridges?)\s*\d+(?:\s*[-–]\s*\d+)?\s*"
    r"(?:[(\[](?:RS|WS)[)\]]|RS|WS)?\s*:)",
    re.IGNORECASE,
)
BARE_COUNT = re.compile(r"(?:^|[\s,;(\[*])\d+$")
A_RUN = r"(?:[kp]\s*)?\d+\s*(?:sts?\s+)?(?:in\s+|with\s+)?[^\W\d_]+\d?|[^\W\d_]{1,3}\s*\d+"
RUN_OR_RUNS = re.compile(rf"(?:{A_RUN})(?:\s*[,;]\s*(?:{A_RUN}))*\s*\.?", re.IGNORECASE)
ONLY_RUNS = re.compile(rf"(?:{A_RUN})(?:\s*[,;]\s*(?:{A_RUN}))+\s*\.?", re.IGNORECASE)
TWO_RUNS = re.compile(rf"(?<!\w)(?:{A_RUN})\s*[,;]\s*(?:{A_RUN})", re.IGNORECASE)
# Rows that a line without a title works: "Work 4 rows even", "Repeat rows 1–4 twice more".
WORK_ROWS = re.compile(
    r"(?:work|knit|continue|cont|k|p)\s+(?:for\s+)?(?P<count>\d+|[a-z]+)\s+(?:more\s+)?"
    r"(?P<word>rows?|rounds?|rnds?|ridges?)\s+(?P<body>.+)",
    re.IGNORECASE,
)
REPEAT_ROWS = re.compile(
    r"rep(?:eat)?\s+(?:(?:the\s+)?(?:last|these|previous)\s+"
    r"(?P<back>\d+|two|three|four|five|six)\s+(?:rows?|rounds?|rnds?|ridges?)"
    r"|(?:rows?|rounds?|rnds?|ridges?)\s+(?P<first>\d+)"
    r"(?:\s*(?:[-–—]|to|and|&|through)\s*(?P<last>\d+))?)\b(?P<rest>.*)",
    re.IGNORECASE,
)
UNTIL_ROWS = re.compile(
    r"(?:until|to|till|for)\s+(?:a\s+total\s+of\s+)?(?:row\s+)?(?P<rows>\d+)\b.*", re.IGNORECASE
)
HOW_OFTEN = re.compile(
    r"(?P<count>\d+|once|twice|thrice|two|three|four|five|six|seven|eight|nine|ten)?\s*"
    r"(?P<more>more|again)?\s*(?:times?|x|×)?\s*(?P<again>more|again)?"
    r"\s*(?P<all>in\s+all|in\s+total|total|altogether)?",
    re.IGNORECASE,
)

# What a line says of the whole.
ENDS = re.compile(
    r"\b(?:cast|bind|bound)\s+(?:on|off)\b|^(?:BO|CO)\b|\b(?:fasten|break|cut|weave|darn|block)\b",
    re.I,
)
SIZE = re.compile(
    r"(?<!\d)(?P<stitches>\d{1,9})\s*(?:sts?|stitches)\b[^\d]{0,20}?(?:[x×,;]|by|and|wide)\s*"
    r"(?P<rows>\d{1,9})\s*(?:rows|rounds|rnds)\b",
    re.IGNORECASE,
)
GAUGE = re.compile(r"\b(?:gauge|tension|cm|inch|inches|in)\b|=", re.IGNORECASE)
WIDTH = re.compile(
    r"\b(?:cast\s+on|CO)\s+(?P<cast>\d{1,9})"
    r"|(?<!\d)(?P<wide>\d{1,9})\s*(?:sts?|stitches)\s+(?:wide|across|in\s+each)",
    re.IGNORECASE,
)
YARN_LIST = re.compile(r"(?:yarns?|colou?rs?|key|shades?)\s*:\s*(?P<list>.+)", re.IGNORECASE)
SHORT_NAME = r"(?:(?:yarn|colou?r|col)\s+)?(?P<short>[^\W\d_]{1,3}\d?)(?![^\W_])"
IN_WORDS = r"(?P<name>[^=:().\d][^=:().]{0,40}?)"
A_YARN = re.compile(rf"{SHORT_NAME}\s*(?:[=:–—]|-\s|\()\s*{IN_WORDS}\)?\s*[.,;]?", re.IGNORECASE)
LISTED_YARN = re.compile(rf"{SHORT_NAME}\s*(?:[=:–—(-]|is\b)?\s*{IN_WORDS}\)?\s*\.?", re.IGNORECASE)
# "Main colour (MC): navy", "ecru (A)".
YARN_AFTER = re.compile(
    rf"{IN_WORDS}\s*\({SHORT_NAME}\)(?:\s*[=:–—-]\s*(?P<shade>[^=:().]{{1,40}}))?\s*\.?",
    re.IGNORECASE,
)
FROM_THE = r"(?:[- ]hand)?(?:\s+(?:edge|side))?\s+to\s+(?:the\s+)?"
DIRECTION = re.compile(
    rf"\b(?P<left>right{FROM_THE}left|R\s*(?:to|→)\s*L)\b"
    rf"|\b(?P<right>left{FROM_THE}right|L\s*(?:to|→)\s*R)\b",
    re.IGNORECASE,
)
# "Row : 3 A" has lost its number.
NO_NUMBER = re.compile(r"(?:rows?|rounds?|rnds?|ridges?)\b", re.IGNORECASE)
HEADING = re.compile(r"(?:chart|page|figure|fig|part|section|size|motif|panel)\b", re.IGNORECASE)
WHOSE = re.compile(
    r"\b(?P<rs>RS|right[- ]side\s+rows|odd|knit)|\b(?P<ws>WS|wrong[- ]side|even|purl)", re.I
)


@dataclass(frozen=True)
class RowLine:
    """A row, or several alike: its title, and the stretches of its text with their lines."""

    title: Title
    line: int
    pieces: list[tuple[int, str]]


@dataclass(frozen=True)
class RowsAgain:
    """Rows that are repeated: first and last, how often or up to which row.

    `back`: the last so many, in place of first and last. `more`: whether it is clear that the times
    come on top of the first; None if it is not.
    """

    line: int
    first: int = 0
    last: int = 0
    back: int = 0
    times: int | None = None
    until: int | None = None
    more: bool | None = None


@dataclass
class Script:
    """What a text holds.

    `yarns` what it says of its yarns, by the short name; `size` stitches and rows, `cast_on` the
    stitches that it says it has; `directions` by kind of row (RS, WS, or all): 1 from the left,
    −1 from the right; `left_out` the lines that are no rows, with their number; `untitled` whether
    its rows have no titles.
    """

    entries: list[RowLine | RowsAgain] = field(default_factory=list)
    yarns: dict[str, str] = field(default_factory=dict)
    size: tuple[int, int] | None = None
    cast_on: int | None = None
    directions: dict[str, int] = field(default_factory=dict)
    left_out: list[tuple[int, str]] = field(default_factory=list)
    untitled: bool = False


def script_of(text: str) -> Script:
    """The lines of a text by what they are. Raises PlanError for a line that may be a row."""
    check_amount(len(text), "The text of written rows", most=MOST_LETTERS_OF_ROWS, what="letters")
    if DRAWING.match(text):
        raise PlanError(
            "The text of written rows is that of a drawing or a web page, so it holds no row. "
            "Load it as a picture, or write one row a line."
        )
    lines = []
    for number, line in enumerate(text.splitlines(), start=1):
        check_amount(len(line), f"Line {number}", most=LONGEST_LINE, what="letters")
        # One blank between words: the search for a row's end would try each of many.
        # A tab stands between cells of a table.
        cells = line.strip().replace("\t", " | ")
        for words in ROW_IN_A_LINE.split(" ".join(cells.split())):
            lines.append((number, words))
    return _Sorting(lines).script()


def looks_written(text: str) -> bool:
    """Whether a text has a line that begins as a written row, or nothing but lines of runs."""
    runs = others = 0
    for line in text.splitlines():
        if len(line) > LONGEST_LINE:
            continue
        words = " ".join(line.split())
        if not words:
            continue
        if _begins_row(words):
            return True
        if ONLY_RUNS.fullmatch(words[:MOST_STITCHES]):
            runs += 1
        else:
            others += 1
    return runs > others


def _begins_row(words: str) -> bool:
    try:
        title = title_of(words, 0)
    except PlanError:
        return True
    if title is None:
        return False
    head = words.removesuffix(title.body)
    # "Row 1,A,B,A" is a line of a table.
    if title.word and (":" in head or re.search(r"\d\s*[^\W\d_]|[^\W\d_]\s*\d", title.body)):
        return True
    return bool(ONLY_RUNS.match(title.body))


@dataclass
class _Sorting:
    """The sorting of the lines.

    `row` is the row that may go on, `letters` those that were added to it, `depth` the
    brackets open in it; `apart` that a blank
    line stands between; `rests` lines that can stand after the last row only; `others` counts the
    lines that are no rows.
    """

    lines: list[tuple[int, str]]
    found: Script = field(default_factory=Script)
    row: RowLine | None = None
    letters: int = 0
    depth: int = 0
    apart: bool = False
    others: int = 0
    rests: list[tuple[int, str]] = field(default_factory=list)

    def script(self) -> Script:
        titled = any(words and title_of(words, number) for number, words in self.lines)
        for number, words in self.lines:
            if not words:
                self.apart = True
                continue
            self._sort(words, number, titled=titled)
            self.apart = False
        self._check_left_out()
        return self.found

    def _check_left_out(self) -> None:
        """Refuse lines with runs among those left out, where no number of a row would be missed."""
        entries = self.found.entries
        if not any(isinstance(entry, RowLine) and entry.title.following for entry in entries):
            return
        for number, words in self.found.left_out:
            # Without titles a yarn that lost its count looks like a heading.
            part = self.found.untitled and re.search(r"\d|^[^\W\d_]{1,3}\b", words)
            if part or TWO_RUNS.search(words):
                raise _no_row(words, number)

    def _sort(self, words: str, line: int, *, titled: bool) -> None:
        title = title_of(words, line)
        if title:
            self._add_row(title, line)
        elif self._repeats(words, line) or self._works_rows(words, line):
            self.row = None
        elif not titled and RUN_OR_RUNS.fullmatch(words):
            self.found.untitled = True
            self._add_row(Title(following=1, body=words), line)
        elif self._goes_on(words):
            self._append(words, line)
        else:
            if not self._tells(words, line):
                self._leave_out(words, line)
            self.others += 1
            check_amount(
                self.others,
                "The text of written rows",
                most=MOST_OTHERS,
                what="lines that are no rows",
            )

    def _add_row(self, title: Title, line: int) -> None:
        for number, words in self.rests:
            raise _no_row(words, number)
        self.row = RowLine(title, line, [(line, title.body)])
        self.letters, self.depth = 0, _brackets(title.body)
        self.found.entries.append(self.row)
        # A row each, or more: what is more is written twice.
        amount = len(self.found.entries)
        check_amount(amount, "The text of written rows", most=MOST_ROWS, what="lines of rows")

    def _append(self, words: str, line: int) -> None:
        assert self.row is not None
        self.row.pieces.append((line, words))
        self.letters += len(words)
        self.depth += _brackets(words)
        check_amount(self.letters, f"Line {self.row.line}", most=LONGEST_LINE, what="letters")

    def _goes_on(self, words: str) -> bool:
        """Whether a line goes on with the row before it."""
        if self.row is None:
            return False
        _, before = self.row.pieces[-1]
        if not before or OPEN_END.search(before) or BARE_COUNT.search(before):
            return True
        if self.depth > 0:
            return True
        if ENDS.search(words):
            return False
        return not self.apart and bool(BEGINS_A_RUN.match(words))

    # Rows without a title

    def _repeats(self, words: str, line: int) -> bool:
        match = REPEAT_ROWS.fullmatch(words)
        if not match:
            return False
        first = count_in(match["first"] or "0", line, "row", most=MOST_ROWS)
        last = count_in(match["last"] or match["first"] or "0", line, "row", most=MOST_ROWS)
        back = _number(match["back"], line) if match["back"] else 0
        again = RowsAgain(line, first, last, back)
        rest = match["rest"].strip(" ,;.")
        until = UNTIL_ROWS.fullmatch(rest)
        often = HOW_OFTEN.fullmatch(rest)
        if until:
            rows = count_in(until["rows"], line, "row", most=MOST_ROWS)
            again = RowsAgain(line, first, last, back, until=rows)
        elif often and rest:
            count = _number(often["count"] or "1", line)
            more = None
            if often["more"] or often["again"] or count == 1:
                more = True
            elif often["all"]:
                more = False
            again = RowsAgain(line, first, last, back, times=count, more=more)
        else:
            raise PlanError(
                f'Line {line}, "{words[:MOST_OF_A_LINE]}", does not say how often. Write it like '
                '"Repeat rows 1–4 twice more".'
            )
        self.found.entries.append(again)
        return True

    def _works_rows(self, words: str, line: int) -> bool:
        match = WORK_ROWS.fullmatch(words)
        if not match or not self.found.entries:
            return False
        asked = match["count"].lower()
        if not asked.isdecimal() and asked not in NUMBERS:
            return False
        title = Title(following=_number(asked, line), body=match["body"], word="row")
        self._add_row(title, line)
        return True

    # What is no row

    def _tells(self, words: str, line: int) -> bool:
        """Whether a line says something of the whole, which is taken down."""
        found = self.found
        yarns = _yarns_told(words)
        directions = _directions_told(words)
        size = None if GAUGE.search(words) else SIZE.search(words)
        if size:
            stitches = count_in(size["stitches"], line, "width", most=MOST_STITCHES)
            rows = count_in(size["rows"], line, "height", most=MOST_ROWS)
            found.size = (stitches, rows)
        width = WIDTH.search(words)
        if width:
            told = width["cast"] or width["wide"]
            found.cast_on = count_in(told, line, "width", most=MOST_CAST_ON)
        found.yarns.update(yarns)
        found.directions.update(directions)
        if width and width["cast"]:
            found.left_out.append((line, words))
        return bool(yarns or directions or size or width)

    def _leave_out(self, words: str, line: int) -> None:
        """Take a line for a heading, or for what comes before and after; else refuse it."""
        if not self.found.entries:
            if ONLY_RUNS.fullmatch(words):
                raise PlanError(
                    f'Line {line}, "{words[:MOST_OF_A_LINE]}", does not say which row it is. '
                    f"{LIKE_ROW}"
                )
        elif ENDS.search(words):
            # After the last row this is the end of the piece; before a row it would be shaping.
            self.rests.append((line, words))
        elif _instructs(words):
            raise _no_row(words, line)
        self.row = None
        self.found.left_out.append((line, words))


def _no_row(words: str, line: int) -> PlanError:
    return PlanError(f'Line {line}, "{words[:MOST_OF_A_LINE]}", is no written row. {LIKE_ROW}')


def _number(word: str, line: int) -> int:
    lowered = word.lower()
    known = TIMES.get(lowered) or NUMBERS.get(lowered)
    return known or count_in(lowered, line, "number", most=MOST_ROWS)


def _brackets(words: str) -> int:
    """How many more brackets open in a line than close."""
    opened = sum(words.count(sign) for sign in "([{")
    closed = sum(words.count(sign) for sign in ")]}")
    return opened - closed


def _instructs(words: str) -> bool:
    """Whether a line tells the hands to do something, or counts something."""
    if re.search(r"\d", words) and not HEADING.match(words):
        return True
    if NO_NUMBER.match(words):
        return True
    said = re.findall(r"[^\W\d_]+", words.lower())
    return any(word in KNIT or word in CRAFT or word in REPEAT for word in said)


def _yarns_told(words: str) -> dict[str, str]:
    """What a line says of its yarns: "A = cream", "Yarns: A cream, B navy"."""
    told = {}
    listed = YARN_LIST.fullmatch(words)
    parts = re.split(r"[,;]|\band\b", listed["list"]) if listed else [words]
    if not listed and re.search(r"[=:–—].*[,;].*[=:–—]", words):
        parts = re.split(r"[,;]", words)
    for part in parts:
        words = part.strip()
        match = YARN_AFTER.fullmatch(words)
        if match and (listed or match["shade"]):
            told[match["short"]] = (match["shade"] or match["name"]).strip()
            continue
        match = (LISTED_YARN if listed else A_YARN).fullmatch(words)
        if match and (listed or not is_taken(match["short"])):
            told[match["short"]] = match["name"].strip()
        elif not listed:
            return {}
    return told


def _directions_told(words: str) -> dict[str, int]:
    """How a line says that rows are read: 1 from the left, −1 from the right, by kind of row."""
    told = {}
    start = 0
    for match in DIRECTION.finditer(words):
        before = words[start : match.start()]
        whose = list(WHOSE.finditer(before))
        kind = "all"
        if whose:
            kind = "RS" if whose[-1]["rs"] else "WS"
        told[kind] = -1 if match["left"] else 1
        start = match.end()
    return told
