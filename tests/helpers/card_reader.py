"""A knitter who has nothing but the words of the cards, and works the piece from them.

She knows how her piece is worked (flat, in rounds or turned, side, hand, garter, selvedge stitches)
and takes the cards as they are printed, line by line. She holds a needle with stitches, and yarns
that hang from it; she knows neither the chart nor links nor what any type of the planner is. What
she does not understand, what cannot be done and what could be done in two ways she refuses.

What she finds by knitting (`Knit`) is compared with the chart and its strands elsewhere.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

MOST_LOOSE = 2  # stitches that yarn may be carried behind without being caught
MOST_FREE = 3  # stitches that a caught yarn may lie free behind
MOST_ROWS_FREE = 2  # rows that yarn may hang loose

STRAND = r"[^\W\d_]{1,3}\d+[ab]?"
ROW_NAME = r"(?:row|round) (\d+)(?: \([^()]*\))?"
LENGTH = r"[\d.]+ (?:cm|m|in|yd)(?: \d+ in)?"
NTH = r"\d+(?:st|nd|rd|th)"
PLACES = (
    rf"(?:the {NTH}(?:(?:, the| and the) {NTH})*|"
    rf"(?P<every>every 3rd) from the {NTH} to the {NTH})"
)

LINE = re.compile(rf" *(\d+) ([^:]+?) ({STRAND})(?:: (.*))?")
TITLE = re.compile(
    r"(?P<name>Row|Round) (?P<row>\d+)(?: \((?P<side>RS|WS)?(?:, )?(?:ridge (?P<ridge>\d+))?\))?, "
    r"(?P<stitch>knit|purl), (?P<works>right to left|left to right): "
    r"(?P<stitches>\d+) stitch(?:es)?"
)
BEGINS = re.compile(
    r"(Cast on|Bind off, (?P<stitch>knit|purl), (?P<works>right to left|left to right)): "
    r"(?P<stitches>\d+) stitch(?:es)?"
)
SHAPED = re.compile(
    r"(?:(bind off|cast on) (\d+)|(decrease|increase) 1) "
    r"(?:at the (beginning|end)|after (\d+) stitch(?:es)?)"
)

NEW = re.compile(rf"new, tail {LENGTH}(?:, caught along its next 8 stitches)?")
MIDDLE = re.compile(
    rf"begin (?P<strand>{STRAND}) from its middle"
    r"(?:(?P<both> and cast on with both ends)|, hold the fold for 2 stitches): "
    rf"this end is (?P<this>{STRAND}), "
    rf"(?:the other one (?P<soon>{STRAND})|(?P<other>{STRAND}) hangs "
    rf"(?:here|beside it) until (?:(?P<here>later in this (?:row|round))|{ROW_NAME}))"
)
TAKEN_UP = re.compile(rf"take up ({STRAND}), the other end of ({STRAND})")
COMES = re.compile(
    r"comes(?= up| across)(?: up (?P<rows>\d+) (?:row|round)s?)?(?P<join> across the join)?"
    r"(?P<loosely>, loosely)?(?:, from (?P<away>1 stitch|2 stitches) (?P<where>away|to the \w+))?"
)
SLACK = re.compile(
    r"(?:loosely, from|hangs) (?P<away>(?<=hangs )1 stitch|(?<=from )2 stitches) "
    r"(?P<where>away|to the \w+)"
)
CATCH = re.compile(
    rf"catch (?:(?P<own>its float)|(?P<float>the float of )?(?P<name>{STRAND})) at {PLACES}"
    r"(?P<past> past where it (?:hangs|begins))?"
)
PASS = re.compile(rf"catch ({STRAND}), which waits here, as you pass it")
LET = re.compile(rf"let ({STRAND}) hang after (?:(these)|the ({NTH}))")
# "It" is the yarn of the run.
YARN = rf"(?P<yarn>it|{STRAND})"
CUT = re.compile(rf"cut(?: (?P<yarn>{STRAND}))?, tail {LENGTH}")
ALONG = re.compile(
    rf"then take {YARN} along the wrong side of the next (?:stitch|(?P<stitches>\d+) stitches)"
    r"(?P<loosely>, loosely)?"
)
FARTHER = re.compile(
    rf"then take {YARN} along: (?:the next (?:row|round)|{ROW_NAME}) begins it farther on"
)
LEFT = re.compile(rf"leave {YARN} hanging for {ROW_NAME}")

READY_NEW = re.compile(
    rf"({STRAND})(?: refill \d+)?: (?:loose strand|butterfly|bobbin|from (?:the ball|ball .*?)|"
    r"both ends of .*?).*"
)
READY_MORE = re.compile(
    rf"({STRAND}): from the work on, measure off .*|"
    rf"(?:a refill of {LENGTH}|ball \d+|the next ball) for ({STRAND}): "
    rf"when {LENGTH} of (\2) are left in this (?:row|round), .*"
)


def _places_in_words(catch: re.Match) -> list[int]:
    """The places that a catch tells: "the 2nd and the 5th", "every 3rd from the 3rd to the 9th"."""
    places = [int(number) for number in re.findall(r"(\d+)(?:st|nd|rd|th)", catch[0])]
    if catch["every"]:
        _, first, last = places
        places = list(range(first, last + 1, 3))
        refuse_unless(places[-1] == last and len(places) > 2, catch[0])
    refuse_unless(places == sorted(set(places)) and places[0] > 0, catch[0])
    return places


class Refused(AssertionError):
    """What the knitter says when she cannot follow a card."""


def refuse_unless(is_right: object, why: str) -> None:
    if not is_right:
        raise Refused(why)


@dataclass(frozen=True)
class Way:
    """How the piece is worked, as its knitter knows it."""

    worked: str = "flat"
    first_row: str = "RS"
    hand: str = "right"
    fabric: str = "stockinette"
    selvedge: int = 0

    @property
    def is_turned(self) -> bool:
        return self.worked != "rounds"

    @property
    def is_tube(self) -> bool:
        return self.worked != "flat"

    def side(self, row: int) -> str:
        """The side of a worked row, from 1."""
        if not self.is_turned or row % 2:
            return self.first_row if self.is_turned else "RS"
        return "WS" if self.first_row == "RS" else "RS"

    def leftwards(self, row: int) -> bool:
        return (self.side(row) == "RS") == (self.hand == "right")


class Stitch:
    """A stitch since a row, from 1, or the place where one was: `is_on` the needle or not."""

    def __init__(self, since: int = 0) -> None:
        self.is_on = True
        self.since = since


@dataclass
class Yarn:
    """A yarn at the work.

    It hangs at one side of a stitch, since a run of a row, both numbered, and is wanted in the row
    `due`. `to_come` stitches are between it and its next run in the same row; `goes_along` says
    that it is taken along behind this row. `behind` tells of each stitch that it lies behind
    already, since it left its run, whether it was caught there.
    """

    name: str
    stitch: Stitch | None = None
    on_the_right: bool = False
    run: int = -1
    row: int = 0
    due: int = 0
    from_middle: bool = False
    to_come: int | None = None
    goes_along: bool = False
    behind: list[bool] = field(default_factory=list)
    caught_in: list[int] = field(default_factory=list)


@dataclass
class Coming:
    """A yarn that came to a run: the ways that it may have come, as stitches in their order.

    Each stitch goes with whether its catch is one of the float. With each way goes after how many
    stitches the yarn hung; some catches are counted from there, `past` it. With each also goes how
    a card would say to which hand it hung; `away` and `where` is what the card said.
    """

    yarn: str
    behind: list[bool]
    ways: list[tuple[int, list[tuple[int, bool]], str]]
    caught: set[int]
    away: int = 0
    where: str = ""
    is_across: bool = False
    past: set[int] = field(default_factory=set)
    floats: set[int] = field(default_factory=set)
    floats_past: set[int] = field(default_factory=set)


@dataclass
class Knit:
    """What came of knitting: all rows first to last, stitches from the left.

    letters
        Each row's yarns, stitch by stitch.
    kept
        By row, which stitch of the row before each stitch is, None for a new one.
    strands
        Each run's strand, in working order.
    links
        (earlier run, later run, kind) for each carry and middle start; kind as it is called.
    hanging
        By row, how many stitches lie to the left of each yarn that hangs after it: all numbers
        that its cards allow.
    """

    letters: list[str] = field(default_factory=list)
    kept: list[list[int | None]] = field(default_factory=list)
    strands: list[str] = field(default_factory=list)
    links: set[tuple[int, int, str]] = field(default_factory=set)
    hanging: list[dict[str, set[int]]] = field(default_factory=list)


class CardReader:
    """Reads the cards of one piece, one after the other."""

    def __init__(self, way: Way):
        self.way = way
        self.knit = Knit()
        self.needle: list[Stitch] = []
        self.yarns: dict[str, Yarn] = {}
        self.gone: set[str] = set()
        self.ready: set[str] = set()
        self.first_run: dict[str, int] = {}
        self.names: dict[str, str] = {}
        self.cross_told: set[str] = set()
        self.ahead: str | None = None
        self.load_told = ""
        self.row = 0
        self.last_row = 0

    @property
    def word(self) -> str:
        return "round" if self.way.is_tube else "row"

    # The cards.

    def read(self, cast_on: str | None, rows: Sequence[str], bind_off: str | None) -> Knit:
        self.last_row = len(rows)
        self.binds_off = bind_off is not None
        if cast_on:
            self._cast_on(cast_on.splitlines())
        for number, text in enumerate(rows, start=1):
            self.row = number
            self._work_row(text.splitlines())
        refuse_unless(self.ahead is None, "the last row tells of a next one")
        if bind_off:
            self._bind_off(bind_off.splitlines())
        refuse_unless(not self.yarns, f"{sorted(self.yarns)} hang when all is done")
        return self.knit

    def _lines(self, lines: Sequence[str]) -> list[tuple[int, str, list[str]]]:
        """The runs among the lines: stitches, strand, steps. One stretch, all of it understood."""
        runs = []
        for text in lines:
            found = LINE.fullmatch(text)
            refuse_unless(found, f"what is {text!r}?")
            letter = re.match(r"[^\W\d_]+", found[3])[0]
            refuse_unless(
                self.names.setdefault(letter, found[2]) == found[2],
                f"{found[3]} is called {found[2]}, before it was {self.names[letter]}",
            )
            runs.append((int(found[1]), found[3], found[4].split("; ") if found[4] else []))
        for (_, strand, _), (_, following, _) in pairwise(runs):
            refuse_unless(strand[0] != following[0], f"{strand} and {following} are one run")
        return runs

    def _take_ready(self, line: str) -> list[str]:
        """Lay out what a line says; returns what is ready."""
        titles = []
        for need in line.removeprefix("Ready: ").split("; "):
            new, more = READY_NEW.fullmatch(need), READY_MORE.fullmatch(need)
            refuse_unless(bool(new) != bool(more), f"what is to be ready: {need!r}?")
            halves = re.search(r"\((\S+) with that end, (\S+) with the other\)", need)
            if new:
                self.ready.add(new[1])
                if halves:
                    refuse_unless(halves.groups() == (f"{new[1]}a", f"{new[1]}b"), need)
            elif (more[1] or more[2]) not in self.yarns:
                raise Refused(f"{need}: it does not hang")
            titles.append(need.split(": ")[0])
        return titles

    def _cast_on(self, lines: list[str]) -> None:
        title = BEGINS.fullmatch(lines[0])
        refuse_unless(title and title[1] == "Cast on", lines[0])
        said = [line for line in lines[1:] if not LINE.fullmatch(line)]
        runs = self._lines(lines[len(said) + 1 :])
        self._take_ready(said.pop(0))
        begins = rf"Cast on in this order: {ROW_NAME} begins with the last stitch cast on"
        ring = ", and at its end it joins the ring; take care that the cast-on is not twisted"
        refuse_unless(
            re.fullmatch(begins + (ring if self.way.is_tube else "") + r"\.", said.pop(0)),
            "how is the cast-on begun?",
        )
        if len(runs) > 1:
            refuse_unless(said.pop(0).startswith("Where two yarns meet, cross them"), "crossing")
        self._check_sections(runs, said)
        refuse_unless(
            re.fullmatch(
                r"For a long-tail cast-on each tail has [\d.]+ times the width of its sections in "
                r"it; knit on with the yarn, not with what is left of the tail\.",
                said.pop(0),
            ),
            "tails",
        )
        refuse_unless(not said, f"what is {said}?")

        # The next row is worked the other way than its stitches were cast on.
        self.row = 1
        made: list[Stitch] = []
        for count, strand, steps in runs:
            made += [Stitch() for _ in range(count)]
            self._begin_section(strand, steps)
            self._hang(self.yarns[strand], made[-1], leftwards=not self.way.leftwards(1))
            # The other half of it, until that is taken up, is the second thread of the cast-on.
            half = self.yarns.get(self._other_half(strand))
            if half and half.from_middle:
                self._hang(half, made[-1], leftwards=not self.way.leftwards(1))
        count = int(title["stitches"])
        refuse_unless(sum(stitches for stitches, *_ in runs) == count, "stitches cast on")
        self.needle = made if self.way.leftwards(1) else made[::-1]
        self.row = 0

    def _check_sections(self, runs: Sequence[tuple[int, str, list[str]]], said: list[str]) -> None:
        """Whether it is said how yarns get to their next sections, if and only if any has one."""
        strands = [strand for _, strand, _ in runs]
        if len(set(strands)) < len(strands):
            told = said.pop(0) if said else ""
            refuse_unless(
                told == "A yarn with more than one section is taken along behind those between.",
                f"how do yarns come to their next sections? {told}",
            )

    def _begin_section(self, strand: str, steps: list[str]) -> None:
        """Begin the yarn of a section of the cast-on, if it is not there yet."""
        if strand in self.yarns and not self.yarns[strand].from_middle:
            refuse_unless(not steps, f"{strand} is there: {steps}")
            return
        refuse_unless(len(steps) == 1, f"{strand}: {steps}")
        if strand in self.yarns:
            self._take_up(strand, steps[0])
        elif NEW.fullmatch(steps[0]):
            self._new(strand)
        else:
            found = MIDDLE.fullmatch(steps[0])
            refuse_unless(found and found["both"], f"{strand}: what is {steps[0]!r}?")
            self._middle(strand, found)

    # A row.

    def _work_row(self, lines: list[str]) -> None:
        way, row = self.way, self.row
        title = TITLE.fullmatch(lines[0])
        refuse_unless(title, f"what is {lines[0]!r}?")
        refuse_unless(int(title["row"]) == row, f"{lines[0]} comes as row {row}")
        refuse_unless(title["name"] == ("Round" if way.is_tube else "Row"), lines[0])
        refuse_unless(title["side"] == (way.side(row) if way.is_turned else None), lines[0])
        ridge = str((row + 1) // 2) if way.fabric == "garter" else None
        refuse_unless(title["ridge"] == ridge, lines[0])
        leftwards = way.leftwards(row)
        works = "right to left" if leftwards else "left to right"
        refuse_unless(title["works"] == works, f"{lines[0]}: it is worked {works}")
        refuse_unless(title["stitch"] == self._stitch(), f"{lines[0]}: {self._stitch()}")

        first = next(i for i, line in enumerate(lines) if LINE.fullmatch(line))
        last = max(i for i, line in enumerate(lines) if LINE.fullmatch(line)) + 1
        runs = self._lines(lines[first:last])
        count = int(title["stitches"])
        before = [stitch for stitch in self.needle if stitch.is_on]
        self._before_row(lines[1:first], len(runs), count)
        refuse_unless(sum(n for n, *_ in runs) == count, "the runs are not the stitches of the row")
        on = [stitch for stitch in self.needle if stitch.is_on]
        refuse_unless(len(on) == count, f"row {row}: {len(on)} are on the needle, not {count}")
        self._knit_runs(runs, on[::-1] if leftwards else on)
        self._after_row(lines[last:], before, on, runs)

    def _stitch(self) -> str:
        """What she does in this row: outside all looks knitted, or ridges do."""
        is_wrong_side = self.way.side(self.row) == "WS"
        if self.way.fabric == "garter":
            # Every ridge has one row that is purl as the right side shows it.
            is_ridge_done = self.row % 2 == 0
            return "purl" if is_ridge_done and not self.way.is_turned else "knit"
        return "purl" if is_wrong_side else "knit"

    def _before_row(self, said: list[str], runs: int, count: int) -> None:
        """Ready, shaping, crossing and the join; nothing else, and nothing twice."""
        way, row = self.way, self.row
        ready = self._take_ready(said.pop(0)) if said and said[0].startswith("Ready: ") else []
        if self.ahead is not None:
            titles = f"have {', '.join(ready)} ready" if ready else "nothing new"
            refuse_unless(self.ahead == titles, f"row {row}: {self.ahead} was told before it")
        if not self.needle and row == 1:
            self.needle = [Stitch() for _ in range(count)]
        elif said and SHAPED.match(said[0]):
            self._shape(said.pop(0), count)
        side = way.side(row)
        if runs > 1 and side not in self.cross_told:
            refuse_unless(said and said[0].startswith("At each border: "), f"row {row}: crossing?")
            self._check_crossing(said.pop(0), side)
            self.cross_told.add(side)
        if way.worked == "turned":
            refuse_unless(said and said[0].startswith("At the join: "), f"row {row}: the join?")
            self._check_join(said.pop(0), side)
        refuse_unless(not said, f"row {row}: what is {said}?")

    def _check_crossing(self, told: str, side: str) -> None:
        aside = "left" if self.way.hand == "right" else "right"
        refuse_unless(f"to the {aside}" in told, told)
        refuse_unless(("behind the work" in told) is (side == "RS"), told)
        is_brought = side == "WS" and self.way.fabric == "garter"
        refuse_unless(("forward between the needles" in told) is is_brought, told)

    def _check_join(self, told: str, side: str) -> None:
        lean = "left" if self.way.leftwards(self.row) else "right"
        on_ws = "k2tog" if self.way.fabric == "garter" else "p2tog"
        together = "ssk" if side == "RS" else on_ws
        refuse_unless(f"({together}, leaning to the {lean} on the RS)" in told, told)
        refuse_unless(("after the turn" in told) is (self.row > 1), told)
        refuse_unless("a yarn-over before the first stitch" in told, told)

    def _shape(self, told: str, count: int) -> None:
        """Take stitches off the needle and put others on, from where the row begins on."""
        leftwards = self.way.leftwards(self.row)
        order = self.needle[::-1] if leftwards else self.needle
        changes, left = told.split(": ")
        refuse_unless(re.fullmatch(rf"{count} stitch(?:es)? in this {self.word}", left), told)
        cursor = worked = 0  # how far the row has come, and its stitches so far
        for change in changes.split(", "):
            found = SHAPED.fullmatch(change)
            refuse_unless(found, f"what is {change!r}?")
            number = int(found[2] or 1)
            refuse_unless(number > 1 or found[3], f"{change}: one alone is not said like this")
            is_taken = (found[1] or found[3]) in ("bind off", "decrease")
            on = [i for i, stitch in enumerate(order) if stitch.is_on and i >= cursor]
            if found[4] == "beginning":
                refuse_unless(cursor == 0, f"{told}: not at the beginning any more")
                place = on[0]
            elif found[4] == "end":
                place = on[-number] if is_taken else max(cursor, on[-1] + 1 if on else 0)
            else:
                ahead = int(found[5]) - worked
                refuse_unless(0 <= ahead <= len(on), f"{told}: where is {change!r}?")
                place = max(cursor, on[ahead - 1] + 1) if ahead else cursor
            worked += sum(cursor <= i < place for i in on)
            if is_taken:
                taken = [i for i in on if i >= place][:number]
                refuse_unless(len(taken) == number, f"{told}: there are not {number}")
                for i in taken:
                    order[i].is_on = False
                cursor = taken[-1] + 1
            else:
                order[place:place] = [Stitch(self.row) for _ in range(number)]
                cursor = place + number
                worked += number
        self.needle = order[::-1] if leftwards else order

    def _knit_runs(self, runs: Sequence[tuple[int, str, list[str]]], order: list[Stitch]) -> None:
        self.order = order
        self.coming: list[Coming] = []
        self.cut_in_row: set[str] = set()
        # What is caught on its way: behind which stitches, and how many past where it hangs.
        self.caught: dict[str, set[int]] = defaultdict(set)
        self.past: dict[str, set[int]] = defaultdict(set)
        done = 0
        for count, strand, steps in runs:
            run = len(self.knit.strands)
            self.knit.strands.append(strand)
            todo = iter([*steps, None])
            step = self._enter(strand, run, done, todo)
            self.first_run.setdefault(strand, run)
            number = 0
            while step is not None and self._is_behind(step, strand, done, count, number):
                number += 1
                step = next(todo)
            done += count
            self._hang(self.yarns[strand], order[done - 1], leftwards=self.way.leftwards(self.row))
            self._leave(self.yarns[strand], run, step, is_it_clear=not number)
            left = [each for each in todo if each is not None]
            refuse_unless(not left, f"row {self.row}, {strand}: too late for {left}")

    # The yarn of a run comes in.

    def _enter(self, strand: str, run: int, done: int, todo: Iterator[str | None]) -> str | None:
        """The yarn comes to its run; returns the first step that is not about that."""
        step = next(todo)
        begins_half = step and MIDDLE.fullmatch(step)
        if step and NEW.fullmatch(step):
            self._new(strand)
            step = next(todo)
        elif begins_half:
            refuse_unless(not begins_half["both"], f"{step}: nothing is cast on here")
            other = self._middle(strand, begins_half)
            # It hangs on the side where this run comes in.
            into = self.order[done]
            self._hang(other, into, leftwards=not self.way.leftwards(self.row))
            step = next(todo)
        else:
            refuse_unless(strand in self.yarns, f"row {self.row}: {strand} hangs nowhere")
            yarn = self.yarns[strand]
            was_middle = yarn.from_middle
            if was_middle:
                self._take_up(strand, step or "")
                step = next(todo)
            words = (COMES.fullmatch(step) or SLACK.fullmatch(step)) if step else None
            told = words.groupdict() if words else {}
            if words:
                step = next(todo)
            self._comes(yarn, run, done, told, was_middle=was_middle)
        return step

    def _new(self, strand: str) -> None:
        refuse_unless(
            strand not in self.yarns, f"row {self.row}: two hang that are called {strand}"
        )
        refuse_unless(strand not in self.gone, f"row {self.row}: {strand} is begun a second time")
        refuse_unless(strand in self.ready, f"row {self.row}: {strand} is not ready")
        self.ready.remove(strand)
        self.yarns[strand] = Yarn(strand)

    def _middle(self, strand: str, found: re.Match) -> Yarn:
        """Begin a length from its middle; returns its other end."""
        this, other = found["this"], found["other"] or found["soon"]
        halves = {found["strand"] + "a", found["strand"] + "b"}
        refuse_unless(this == strand and {this, other} == halves, f"{strand}: {found[0]}")
        # Wound as one length, or one half on a ball.
        lengths = {found["strand"]} if found["strand"] in self.ready else halves
        refuse_unless(lengths <= self.ready, f"row {self.row}: {lengths} are not ready")
        self.ready -= lengths
        refuse_unless(not halves & (set(self.yarns) | self.gone), f"{halves}: begun before")
        due = self.row if found["here"] or found["soon"] else int(found[found.re.groups])
        self.yarns[this] = Yarn(this)
        self.yarns[other] = Yarn(other, row=self.row, due=due, from_middle=True)
        return self.yarns[other]

    def _take_up(self, strand: str, step: str) -> None:
        found = TAKEN_UP.fullmatch(step)
        refuse_unless(found and found[1] == strand, f"row {self.row}: {strand}: {step}")
        refuse_unless(strand[:-1] == found[2], step)
        self.yarns[strand].from_middle = False

    def _comes(self, yarn: Yarn, run: int, done: int, told: dict, *, was_middle: bool) -> None:
        where = f"row {self.row}, {yarn.name}"
        caught = self.caught.pop(yarn.name, set())
        if yarn.to_come is not None:
            refuse_unless(not told, f"{where}: {told}")
            start = done - yarn.to_come
            refuse_unless(
                self._place(yarn) == start, f"{where}: it was to come after {yarn.to_come} stitches"
            )
            self.knit.links.add((yarn.run, run, "across"))
            way = [(stitch, False) for stitch in range(start, done)]
            ways = [(start, way, "")]
            self.coming.append(Coming(yarn.name, [], ways, caught, is_across=True))
            yarn.to_come = None
            return
        refuse_unless(yarn.due == self.row, f"{where}: it was to come in row {yarn.due}")
        self._join_halves(yarn.name, run)
        if yarn.run < 0 and not was_middle:
            # From the cast-on it comes without a word.
            refuse_unless(self._place(yarn) == done, f"{where}: it does not hang here")
            refuse_unless(not told and not caught, f"{where}: {told}, {caught}")
            return
        rows = self.row - yarn.row - 1
        refuse_unless(int(told.get("rows") or 0) == max(rows, 0), f"{where}: rows up {told}")
        away = int((told.get("away") or "0")[0])
        is_slack = away == MOST_LOOSE
        refuse_unless(
            bool(told.get("loosely")) is (rows > 0 and not is_slack), f"{where}: how loosely?"
        )
        self._check_rows_free(yarn)
        if not was_middle:
            self.knit.links.add((yarn.run, run, "up" if rows > 0 else "on"))
        ways = []
        for place in self._places(yarn):
            along, over = self._ways(place, done)
            # Her rows begin at the hand that she works from, whatever side she sees.
            is_passed = (place < done) == (self.way.hand == "right")
            hand = "to the right" if is_passed else "to the left"
            if told.get("join"):
                refuse_unless(self.way.worked == "turned", f"{where}: there is no join")
                ways.append((place, over, "away"))
            elif self.way.worked == "rounds" and yarn.row < self.row:
                ways += [(place, along, hand), (place, over, "away")]
            else:
                ways.append((place, along, hand))
        past = self.past.pop(yarn.name, set())
        self.coming.append(
            Coming(
                *(yarn.name, yarn.behind, ways, caught),
                away=away,
                where=told.get("where") or "",
                past=past,
            )
        )
        yarn.behind = []

    def _join_halves(self, name: str, run: int) -> None:
        """Note the middle start, when the second half of a strand comes to its first run."""
        other = self._other_half(name)
        if name not in self.first_run and other in self.first_run:
            self.knit.links.add((self.first_run[other], run, "middle"))

    def _other_half(self, name: str) -> str:
        return name[:-1] + {"a": "b", "b": "a"}.get(name[-1], "?")

    def _ways(self, start: int, done: int) -> tuple[list, list]:
        """The ways from where a yarn hangs to where it is wanted: along the row, and over its ends.

        Behind stitches that are worked later it lies as a float.
        """
        last = len(self.order)
        if start <= done:
            along = [(stitch, False) for stitch in range(start, done)]
            over = [(stitch, False) for stitch in range(start)[::-1]]
            over += [(stitch, True) for stitch in range(done, last)[::-1]]
        else:
            along = [(stitch, True) for stitch in range(done, start)[::-1]]
            over = [(stitch, True) for stitch in range(start, last)]
            over += [(stitch, False) for stitch in range(done)]
        return along, over

    def _place(self, yarn: Yarn) -> int:
        """After how many stitches of this row a yarn hangs."""
        return self._worked_before(self._number(yarn))

    def _places(self, yarn: Yarn) -> list[int]:
        """All places where a yarn may hang, after so many stitches of this row.

        There are several only where stitches were bound off at which it hung, and others cast on
        there since: on which side of it, no word says.
        """
        number = self._number(yarn)
        first = last = number
        is_new = [not each.is_on or each.since > yarn.row for each in self.needle]
        while first > 0 and is_new[first - 1]:
            first -= 1
        while last < len(self.needle) and is_new[last]:
            last += 1
        if all(stitch.is_on for stitch in self.needle[first:last]):
            first = last = number
        return sorted({self._worked_before(each) for each in range(first, last + 1)})

    def _worked_before(self, number: int) -> int:
        left = sum(stitch.is_on for stitch in self.needle[:number])
        return len(self.order) - left if self.way.leftwards(self.row) else left

    def _number(self, yarn: Yarn) -> int:
        return self.needle.index(yarn.stitch) + yarn.on_the_right

    def _to_the_left(self, yarn: Yarn) -> int:
        return sum(stitch.is_on for stitch in self.needle[: self._number(yarn)])

    def _hang(self, yarn: Yarn, stitch: Stitch, *, leftwards: bool) -> None:
        """Let a yarn hang at the side of a stitch to which the work goes."""
        yarn.stitch, yarn.on_the_right = stitch, not leftwards
        yarn.due = max(yarn.due, self.row)

    # Behind the stitches of a run.

    def _is_behind(self, step: str, strand: str, done: int, count: int, number: int) -> bool:
        """Do what a step says of yarns behind the run; whether it says anything of them."""
        catch, let, passed = CATCH.fullmatch(step), LET.fullmatch(step), PASS.fullmatch(step)
        where = f"row {self.row}, {strand}: {step}"
        if catch:
            # Where other yarns were spoken of, "its" might be one of theirs.
            refuse_unless(not catch["own"] or number == 0, f"{where}: whose float?")
            self._catch(catch, strand, done, count)
        elif passed:
            self._catch_in_passing(passed[1], range(done, done + count))
        elif let:
            after = count if let[2] else int(let[3][:-2])
            refuse_unless(let[2] or after < count, where)
            self._let_hang(let[1], done + after)
        return bool(catch or let or passed)

    def _catch(self, catch: re.Match, strand: str, done: int, count: int) -> None:
        name = strand if catch["own"] else catch["name"]
        is_float = bool(catch["own"] or catch["float"])
        where = f"row {self.row}, {strand}: {catch[0]}"
        refuse_unless(catch["own"] or name != strand, f"{where}: the yarn in the hand")
        yarn = self.yarns.get(name)
        # A float may be caught when its yarn is cut already.
        refuse_unless(yarn or is_float, f"{where}: it hangs nowhere")
        places = _places_in_words(catch)
        came = [coming for coming in self.coming if coming.yarn == name]
        refuse_unless(came or not is_float, f"{where}: no float of it is there")
        if catch["past"] and is_float:
            refuse_unless(catch["past"].endswith("begins"), where)
            at = [place for place, *_ in came[0].ways]
            is_passed = any(done < place <= done + count - places[-1] for place in at)
            refuse_unless(is_passed, f"{where}: it begins after {at}, not behind this run")
            came[0].floats_past |= set(places)
            return
        if catch["past"]:
            refuse_unless(catch["past"].endswith("hangs"), where)
            refuse_unless(yarn.due == self.row and yarn.row < self.row, f"{where}: not on its way")
            at = self._places(yarn)
            is_passed = any(done < place <= done + count - places[-1] for place in at)
            refuse_unless(is_passed, f"{where}: it hangs after {at}, not behind this run")
            self.past[name] |= set(places)
            return
        refuse_unless(places[-1] <= count, f"{where}: the run has {count} stitches")
        stitches = {done + place - 1 for place in places}
        if is_float:
            came[0].floats |= stitches
        elif yarn.to_come is not None or yarn.goes_along:
            self.caught[name] |= stitches
        else:
            refuse_unless(yarn.due == self.row, f"{where}: it is not wanted in this row")
            refuse_unless(yarn.row < self.row or yarn.from_middle, f"{where}: it is not on its way")
            self.caught[name] |= stitches

    def _catch_in_passing(self, name: str, stitches: range) -> None:
        """Catch a yarn where it hangs, behind the next stitch, or the last of the row."""
        where = f"row {self.row}: {name}"
        refuse_unless(name in self.yarns, f"{where} hangs nowhere")
        yarn, last = self.yarns[name], len(self.order) - 1
        refuse_unless(yarn.due > self.row, f"{where} does not wait")
        at = self._places(yarn)
        is_passed = any(min(place, last) in stitches for place in at)
        refuse_unless(is_passed, f"{where} waits after {at}, not behind {stitches}")
        yarn.caught_in.append(self.row)

    def _let_hang(self, name: str, after: int) -> None:
        where = f"row {self.row}: {name}"
        refuse_unless(name in self.yarns, f"{where} hangs nowhere")
        yarn = self.yarns[name]
        refuse_unless(yarn.goes_along, f"{where} is not taken along")
        caught = self.caught.pop(name, set())
        stitches = range(self._place(yarn), after)
        refuse_unless(stitches and caught <= set(stitches), f"{where}: {caught} in {stitches}")
        yarn.behind = [stitch in caught for stitch in stitches]
        yarn.goes_along = False
        self._hang(yarn, self.order[after - 1], leftwards=self.way.leftwards(self.row))

    # The run is done.

    def _leave(self, yarn: Yarn, run: int, step: str | None, *, is_it_clear: bool) -> None:
        yarn.run, yarn.row, yarn.caught_in = run, self.row, []
        yarn.due = self.row + 1
        is_last = self.row == self.last_row
        if step is None:
            return
        cut, along, farther, left = (each.fullmatch(step) for each in (CUT, ALONG, FARTHER, LEFT))
        where = f"row {self.row}, {yarn.name}: {step}"
        found = cut or along or farther or left
        refuse_unless(found, f"{where}?")
        # Where others were spoken of, it needs its name.
        named = (None, "it") if is_it_clear else (yarn.name,)
        refuse_unless(found["yarn"] in named, f"{where}: which?")
        if cut:
            refuse_unless(not (is_last and self.binds_off), f"{where}: it is bound off with")
            del self.yarns[yarn.name]
            self.cut_in_row.add(yarn.name)
            self.gone.add(yarn.name)
        elif along:
            yarn.to_come, yarn.due = int(along["stitches"] or 1), self.row
            refuse_unless(
                bool(along["loosely"]) is (yarn.to_come <= MOST_LOOSE), f"{where}: how loosely?"
            )
        elif farther:
            yarn.goes_along = True
            yarn.due = int(farther[2] or self.row + 1)
        else:
            yarn.due = int(left[2])

    def _after_row(self, said: list[str], before: list, on: list, runs: list) -> None:
        row = self.row
        for coming in self.coming:
            self._check_coming(coming)
        on_the_way = {*self.caught, *self.past}
        refuse_unless(not on_the_way, f"row {row}: {on_the_way} are caught and come nowhere")
        for yarn in self.yarns.values():
            is_there = yarn.to_come is None and not yarn.goes_along
            refuse_unless(is_there, f"row {row}: {yarn.name} is still on its way")
            is_last = row == self.last_row
            refuse_unless(yarn.due > row, f"row {row}: {yarn.name} was to come")
            refuse_unless(not is_last or yarn.row == row, f"{yarn.name} waits for no row")
        hang = bool(said) and re.fullmatch(
            r"(?:(\d+) hang at once|(1) hangs): (easy|comfortable|busy|crowded)\.", said[0]
        )
        if hang:
            in_hand = len(self.yarns) + len(self.cut_in_row)
            refuse_unless(int(hang[1] or hang[2]) == in_hand, f"row {row}: {said[0]} not {in_hand}")
            refuse_unless(said[0] != self.load_told, f"row {row}: {said[0]} is told again")
            self.load_told = said.pop(0)
        if said and said[0].startswith("embroidered afterwards: "):
            said.pop(0)
        self.ahead = None
        if row == self.last_row and said == ["Next: bind off."]:
            said.pop(0)
        if said:
            found = re.fullmatch(rf"Next, {ROW_NAME}: (.*)\.", said.pop(0))
            refuse_unless(found and int(found[1]) == row + 1, f"row {row}: next?")
            self.ahead = found[2]
        refuse_unless(not said, f"row {row}: what is {said}?")

        letters = [re.match(r"[^\W\d_]+", strand)[0] for n, strand, _ in runs for _ in range(n)]
        self.knit.letters.append(letters[::-1] if self.way.leftwards(row) else letters)
        number = {stitch: i for i, stitch in enumerate(before)}
        self.knit.kept.append([number.get(stitch) for stitch in on])
        hanging = {}
        for yarn in self.yarns.values():
            places = self._places(yarn)
            hanging[yarn.name] = {len(on) - p if self.way.leftwards(row) else p for p in places}
        self.knit.hanging.append(hanging)

    def _check_coming(self, coming: Coming) -> None:
        """Whether a yarn that came, came in a way that its catches and its slack allow."""
        where = f"row {self.row}, {coming.yarn}: {coming.behind} and {coming.ways}"
        caught = f"caught {coming.caught}, past it {coming.past}, as a float {coming.floats}"
        good = []
        for place, way, hand in coming.ways:
            caught_at = coming.caught | {place + number - 1 for number in coming.past}
            floats_at = coming.floats | {place + number - 1 for number in coming.floats_past}
            passed = {stitch for stitch, is_float in way if not is_float}
            floats = {stitch for stitch, is_float in way if is_float}
            if caught_at <= passed and floats_at <= floats:
                at = [stitch in caught_at | floats_at for stitch, _ in way]
                behind = [*coming.behind, *at]
                is_short = len(behind) <= MOST_LOOSE and not coming.is_across
                away = len(behind) if is_short else 0
                told = (coming.away, coming.where)
                if self._is_held(behind) and told == (away, hand if away else ""):
                    good.append(way)
        refuse_unless(good, f"{where}, {caught}, {coming.away} stitches {coming.where}")

    def _is_held(self, behind: list[bool]) -> bool:
        """Whether yarn that lies behind stitches, caught or not, is held well."""
        if len(behind) <= MOST_LOOSE:
            return not any(behind)
        free = "".join("x" if is_caught else " " for is_caught in behind).split("x")
        return len(free) > 1 and max(map(len, free)) <= MOST_FREE

    def _check_rows_free(self, yarn: Yarn) -> None:
        rows = [yarn.row, *yarn.caught_in, self.row]
        for row, following in pairwise(rows):
            is_short = following - row - 1 <= MOST_ROWS_FREE
            refuse_unless(is_short, f"{yarn.name} hangs loose from row {row} to row {following}")

    def _bind_off(self, lines: list[str]) -> None:
        title = BEGINS.fullmatch(lines[0])
        refuse_unless(title and title["works"], f"what is {lines[0]!r}?")
        leftwards = not self.way.leftwards(self.last_row)
        works = "right to left" if leftwards else "left to right"
        refuse_unless(title["works"] == works, f"{lines[0]}: it is worked {works}")
        said = [line for line in lines[1:] if not LINE.fullmatch(line)]
        runs = self._lines(lines[len(said) + 1 :])
        sections = " each section in its own yarn" if len(runs) > 1 else ""
        begin = f"Turn the work and bind off{sections}."
        refuse_unless(said.pop(0) == begin, "how is it bound off?")
        side = "WS" if self.way.side(self.last_row) == "RS" else "RS"
        if len(runs) > 1:
            refuse_unless(said and said[0].startswith("At each border: "), "bind off: crossing?")
            self._check_crossing(said.pop(0), side)
        self._check_sections(runs, said)
        refuse_unless(not said, f"what is {said}?")
        refuse_unless(sum(n for n, *_ in runs) == int(title["stitches"]), lines[0])
        on = [stitch for stitch in self.needle if stitch.is_on]
        refuse_unless(len(on) == int(title["stitches"]), f"{len(on)} are on the needle")
        done, begun = 0, set()
        for count, strand, steps in runs:
            refuse_unless(strand in self.yarns, f"bind off: {strand} hangs nowhere")
            place = self._to_the_left(self.yarns[strand])
            place = len(on) - place if leftwards else place
            refuse_unless(strand in begun or place == done, f"bind off: {strand} is not here")
            begun.add(strand)
            done += count
            if steps:
                refuse_unless(len(steps) == 1 and CUT.fullmatch(steps[0]), f"bind off: {steps}")
                del self.yarns[strand]
                self.gone.add(strand)
        self.bound_off = [(count, strand) for count, strand, _ in runs]
