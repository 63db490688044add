"""The beginnings of written rows: "Row 5 (RS):", "Rows 3–6:", "1st row", "Row 2 and all WS rows".

A title is a head that names rows, then remarks (side, total, direction) and a separator.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from planner.charts.written_words import NUMBERS, count_in
from planner.errors import PlanError
from planner.guards import MOST_ROWS, MOST_STITCHES

ONE = r"row|round|rnd|rd|ridge"
MANY = r"rows|rounds|rnds|rds|ridges"
UP_TO_TENTH = (
    *("first", "second", "third", "fourth", "fifth"),
    *("sixth", "seventh", "eighth", "ninth", "tenth"),
)
ORDINALS = {word: number for number, word in enumerate(UP_TO_TENTH, start=1)}
SIDE_WORDS = r"RS|WS|right[ -]side|wrong[ -]side"
TO = r"(?:[-–—]|to|through|thru)"
# After a comma a number is one of a row only if no yarn follows: "Rows 1 and 2, 10 A".
NO_YARN = r"(?!\d)(?!\s*(?!and|to|thr|RS|WS|right|wrong)[^\W\d_])"
LIST = rf"\d+(?:\s*(?:{TO}|and|&|\+|/)\s*\d+|\s*,\s*(?:(?:and|&)\s*)?\d+{NO_YARN})*"
# A range after "Row" needs more of a title after it: "Row 1 - 10 A" is row 1 and ten stitches.
TITLE_GOES_ON = rf"(?=\s*(?:[:.=|]|[(\[]?\s*(?:{SIDE_WORDS})\b))"
NEXT_COUNT = r"\d+|two|three|four|five|six|seven|eight|nine|ten"

LEAD = re.compile(
    rf"(?P<bold>[\s•·#>*_–—-]*)(?:(?:with\s+)?[(\[]?(?P<side>{SIDE_WORDS})\b"
    r"(?:\s+facing)?[)\]]?[\s:,]+|(?:chart|pattern|patt|knit|purl)\s+)?",
    re.IGNORECASE,
)
HEADS = (
    re.compile(rf"(?P<word>{MANY})\.?\s*(?P<numbers>{LIST})", re.IGNORECASE),
    re.compile(
        rf"(?P<word>{ONE})\.?\s*(?:no\.?\s*|#\s*)?"
        rf"(?P<numbers>\d+(?:\s*(?:{TO}|and|&)\s*(?:(?:{ONE})\s*)?\d+{TITLE_GOES_ON})?)",
        re.IGNORECASE,
    ),
    re.compile(rf"(?P<word>{ONE})\s+(?P<named>{'|'.join(NUMBERS)})\b", re.IGNORECASE),
    re.compile(
        rf"(?P<ordinals>(?:\d+(?:st|nd|rd|th)|{'|'.join(ORDINALS)})"
        rf"(?:\s*(?:,|and|&|to|[-–—])\s*(?:\d+(?:st|nd|rd|th)|{'|'.join(ORDINALS)}))*)"
        rf"\s+(?:[(\[]?(?P<side>{SIDE_WORDS})[)\]]?\s+)?(?P<word>{MANY}|{ONE})\b",
        re.IGNORECASE,
    ),
    re.compile(r"(?P<ordinals>\d+(?:st|nd|rd|th))(?=\s+(?:and|&)\s+(?:all|every|each)\b)", re.I),
    re.compile(rf"(?:the\s+)?next\s+(?P<next>{NEXT_COUNT})?\s*(?P<word>{MANY}|{ONE})\b", re.I),
    re.compile(
        r"(?:all|every|each|remaining|rem)\s+(?:other\s+|alt(?:ernate)?\s+|following\s+|foll\s+)?"
        rf"(?P<kind>{SIDE_WORDS}|even|odd)(?:[- ]numbered)?\s+(?P<word>{MANY}|{ONE})\b",
        re.IGNORECASE,
    ),
    re.compile(
        rf"(?:on\s+)?(?P<kind>{SIDE_WORDS}|even|odd)(?:[- ]numbered)?"
        rf"\s+(?P<word>{MANY})(?=\s*[:,–-])",
        re.IGNORECASE,
    ),
    # "R 1:" and "1." are a title only with what closes one; else they might be a yarn and a count.
    re.compile(rf"(?P<word>R)\s*(?P<numbers>\d+){TITLE_GOES_ON}", re.IGNORECASE),
    re.compile(r"(?P<word>R)(?P<numbers>\d+)(?=\s+(?:\d|[kp]\s?\d|[(\[*]))", re.IGNORECASE),
    re.compile(rf"(?P<numbers>\d+)(?=\s*(?:[:)|]|\.(?!\d)|[(\[]?(?:{SIDE_WORDS})\b))", re.I),
    re.compile(r"(?P<word>R)?(?P<numbers>\d+)(?=\s+[–—-]\s+[\dkp])", re.IGNORECASE),
)
ALSO = re.compile(
    r"\s*[(,]?\s*(?:and|&)\s+(?:(?:all|every|each|the)\s+)?"
    r"(?:(?:all|every|each|foll(?:owing)?\.?|other|alt(?:ernate)?\.?|subsequent|remaining|rem)\s+)*"
    rf"(?:(?P<kind>{SIDE_WORDS}|even|odd|purl|knit)(?:[- ]numbered)?\s+)?(?:{MANY}|{ONE})\b\s*\)?",
    re.IGNORECASE,
)
RIGHT_TO_LEFT = r"(?:right|R)\s*(?:to|-|→)\s*(?:left|L)|←|<-+"
LEFT_TO_RIGHT = r"(?:left|L)\s*(?:to|-|→)\s*(?:right|R)|→|-+>"
REMARK = re.compile(
    r"[\s,;(\[|–—-]*(?:"
    rf"(?P<side>{SIDE_WORDS})\b(?:\s+(?:row|facing))?"
    r"|(?<=[(\[ ,])(?P<total>\d+)\s*(?:sts?|stitches)\b(?:\s+total)?(?=\s*[)\]:])"
    rf"|(?:(?:read|reads|worked|from)\s+)?(?:(?P<left>{RIGHT_TO_LEFT})|(?P<right>{LEFT_TO_RIGHT}))"
    r"|(?<=[(\[])(?:k|p|knit|purl)(?=\s*[)\]])"
    r")[\s,;)\]|]*",
    re.IGNORECASE,
)
SEPARATOR = re.compile(r"\s*(?:[:.=|)]|[–—-]+(?=\s)|,)*\s*")
# "Row 1: (RS) 10 A", "Row 1: RS: 10 A".
LATE_SIDE = re.compile(
    rf"(?:[(\[]\s*(?P<in>{SIDE_WORDS})\s*[)\]]|(?P<bare>{SIDE_WORDS})\s*[:|])\s*[:,]?\s*", re.I
)
NUMBER = re.compile(r"\d+")


@dataclass(frozen=True)
class Title:
    """What a title says.

    `rows`: first and last, from 1, of each stretch. `also`: a kind of rows that are meant too (RS,
    WS, even, odd). `following`: how many rows after the last one, for "Next row". `side` RS or WS,
    `total` stitches, `direction` 1 from the left or −1 from the right, each where it is said.
    `word`: row, round, ridge, or "" for a bare number. `body`: the rest of the line.
    """

    rows: tuple[tuple[int, int], ...] = ()
    also: str = ""
    following: int = 0
    side: str = ""
    total: int | None = None
    direction: int | None = None
    word: str = ""
    body: str = ""


def title_of(text: str, line: int) -> Title | None:
    """The title with which a line begins; None for a line without one."""
    lead = LEAD.match(text)
    start = lead.end() if lead else 0
    head = _head(text, start)
    if not head and lead:
        start = lead.end("bold")
        head = _head(text, start)
    if not head:
        return None
    title = _of_head(head, line)
    if lead and lead["side"]:
        title = replace(title, side=_side(lead["side"]))
    at = head.end()
    # Remarks stand before or after "and all WS rows".
    title, at = _remarks(title, text, at, line)
    also = ALSO.match(text, at)
    if also:
        title = replace(title, also=_kind(also["kind"], title))
        title, at = _remarks(title, text, also.end(), line)
    at = SEPARATOR.match(text, at).end()  # type: ignore[union-attr]
    late = LATE_SIDE.match(text, at)
    if late:
        title = replace(title, side=_side(late["in"] or late["bare"]))
        at = late.end()
    body = text[at:]
    # "**Row 1:** 10 A": what made the title bold goes.
    if lead and lead["bold"].strip().startswith("*"):
        body = body.lstrip("* ")
    return replace(title, body=body.strip())


def _head(text: str, start: int) -> re.Match[str] | None:
    for pattern in HEADS:
        match = pattern.match(text, start)
        if match:
            return match
    return None


def _of_head(head: re.Match[str], line: int) -> Title:
    found = head.groupdict()
    word = _word(found.get("word") or "")
    title = Title(word=word, side=_side(found.get("side") or ""))
    if found.get("numbers"):
        return replace(title, rows=_stretches(found["numbers"], line))
    if found.get("ordinals"):
        return replace(title, rows=_stretches(_as_digits(found["ordinals"]), line))
    if found.get("named"):
        row = NUMBERS[found["named"].lower()]
        return replace(title, rows=((row, row),))
    if found.get("kind"):
        return replace(title, also=_kind(found["kind"], title))
    asked = found.get("next") or "1"
    number = NUMBERS.get(asked.lower())
    if number is None:
        number = count_in(asked, line, "rows", most=MOST_ROWS)
    return replace(title, following=number)


def _word(word: str) -> str:
    lowered = word.lower()
    if lowered.startswith("ridge"):
        return "ridge"
    if lowered.startswith(("round", "rnd", "rd")):
        return "round"
    return "row" if lowered else ""


def _side(words: str) -> str:
    lowered = words.lower()
    if not lowered:
        return ""
    return "RS" if lowered.startswith("r") else "WS"


def _kind(words: str | None, title: Title) -> str:
    """The kind of rows meant by "all WS rows"; "every alternate row" goes by the row named."""
    lowered = (words or "").lower()
    if lowered in ("even", "odd"):
        return lowered
    if lowered in ("knit", "purl"):
        return "RS" if lowered == "knit" else "WS"
    if lowered:
        return _side(lowered)
    first = title.rows[0][0] if title.rows else 2
    return "odd" if first % 2 else "even"


def _as_digits(ordinals: str) -> str:
    words = re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", ordinals, flags=re.IGNORECASE)
    for word, number in ORDINALS.items():
        words = re.sub(rf"\b{word}\b", str(number), words, flags=re.IGNORECASE)
    return words


def _stretches(numbers: str, line: int) -> tuple[tuple[int, int], ...]:
    """First and last row of each stretch in a list such as "1, 3–5 and 8"."""
    stretches: list[tuple[int, int]] = []
    to = re.compile(TO, re.IGNORECASE)
    end = 0
    for match in NUMBER.finditer(numbers):
        number = count_in(match[0], line, "row", most=MOST_ROWS)
        between = numbers[end : match.start()]
        if stretches and to.search(between):
            first = stretches.pop()[0]
            stretches.append((first, number))
        else:
            stretches.append((number, number))
        end = match.end()
    for first, last in stretches:
        if not 1 <= first <= last:
            raise PlanError(
                f"Line {line} is for rows {first} to {last}; rows count upwards from 1."
            )
    return tuple(stretches)


def _remarks(title: Title, text: str, at: int, line: int) -> tuple[Title, int]:
    """The title with its remarks, and where they end."""
    while True:
        match = REMARK.match(text, at)
        if not match:
            return title, at
        if match["side"]:
            title = replace(title, side=_side(match["side"]))
        elif match["total"]:
            total = count_in(match["total"], line, "total", most=MOST_STITCHES)
            title = replace(title, total=total)
        elif match["left"] or match["right"]:
            title = replace(title, direction=-1 if match["left"] else 1)
        at = match.end()
