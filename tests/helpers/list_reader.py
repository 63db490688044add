"""A knitter who winds by the words of the winding list and knits by the words of the cards.

She has so many balls of each yarn. Before a row she winds and cuts what the list tells her to have
ready before it, and she cuts from a ball only while no strand is fed from it. What a card wants
must then be in her hands, as long as the card says; what she cannot do she refuses.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

CAST_ON = "cast-on"
LENGTH = r"[\d.]+ (?:cm|m|in|yd)(?: \d+ in)?"
STRAND = r"[^\W\d_]{1,3}\d+[ab]?"
FROM_BALL = re.compile(r"from (?:the ball|ball (\d+).*)")
OFF_ITS_BALL = "measured off its ball then"
NEED_OF_BALL = re.compile(rf"({STRAND}): (from (?:the ball|ball \d+).*)")
NEED_WOUND = re.compile(
    rf"({STRAND}(?: refill \d+)?|cast-on): (?P<held>[a-z ]+), (?P<length>{LENGTH})(?P<more>.*)"
)
NEED_OFF = re.compile(rf"({STRAND}): from the work on, measure off ({LENGTH}), cut it .*")
NEED_REFILL = re.compile(rf"a refill of ({LENGTH}) for ({STRAND}): .*")
NEED_BALL = re.compile(rf"(?:ball (\d+)|the next ball) for ({STRAND}): .*")
RUN = re.compile(rf" *\d+ [^:]+? ({STRAND}|cast-on)(?:: (.*))?")
CUT = re.compile(r"cut(?: \S+)?, tail .*")


class Refused(AssertionError):
    """What she says when list and cards do not go together."""


class ListLine(NamedTuple):
    """A line of the list in its words: yarn, strands, how it is held, length, before what."""

    yarn: str
    strands: str
    held: str
    length: str
    before: str


def refuse_unless(is_right: object, why: str) -> None:
    if not is_right:
        raise Refused(why)


def names_in(strands: str) -> list[str]:
    """The names in a cell of the list: "Y2, Y5: each"."""
    return strands.removesuffix(": each").split(", ")


@dataclass
class ListReader:
    """Follows list and cards; `balls` are how many she has of each yarn."""

    balls: Mapping[str, int]
    lines: list[ListLine]
    cut: dict[str, str] = field(default_factory=dict)  # lengths in her hands, by name
    fed: dict[str, str] = field(default_factory=dict)  # the yarns of strands fed from balls
    used: set[str] = field(default_factory=set)

    def follow(self, cast_on: str | None, rows: Iterable[str]) -> None:
        by_row: dict[str, list[ListLine]] = defaultdict(list)
        for line in self.lines:
            by_row[line.before].append(line)
        if cast_on:
            self._work(CAST_ON, by_row.pop(CAST_ON, []), cast_on)
        for number, card in enumerate(rows, start=1):
            self._work(str(number), by_row.pop(str(number), []), card)
        by_row.pop("", None)  # what is embroidered
        refuse_unless(not by_row, f"no card for {list(by_row)}")
        unused = self.cut.keys() - self.used
        refuse_unless(not unused, f"{sorted(unused)} are wound, and no card wants them")

    def _work(self, row: str, lines: list[ListLine], card: str) -> None:
        for line in lines:
            if OFF_ITS_BALL not in line.held and not FROM_BALL.fullmatch(line.held):
                self._cut(row, line)
        laid = {name for each in lines if FROM_BALL.fullmatch(each.held) for name in [each.strands]}
        off = {each.strands.partition(" from ")[0]: each for each in lines}
        texts = card.splitlines()
        for text in texts:
            if text.startswith("Ready: "):
                for need in text.removeprefix("Ready: ").split("; "):
                    self._have(row, need, laid, off)
        refuse_unless(not laid, f"before {row} the list lays out {laid}, the card does not")
        for text in texts:
            run = RUN.fullmatch(text)
            if run and any(CUT.fullmatch(step) for step in (run[2] or "").split("; ")):
                self.fed.pop(run[1], None)

    def _cut(self, row: str, line: ListLine) -> None:
        in_use = sum(yarn == line.yarn for yarn in self.fed.values())
        free = self.balls[line.yarn] - in_use
        for name in names_in(line.strands):
            refuse_unless(free > 0, f"before {row}: the balls of {line.yarn} are in use, {name}")
            refuse_unless(name not in self.cut, f"{name} is wound twice")
            self.cut[name] = line.length

    def _have(self, row: str, need: str, laid: set[str], off: dict[str, ListLine]) -> None:
        """Have ready what a card wants."""
        of_ball, refill, more_ball = (
            each.fullmatch(need) for each in (NEED_OF_BALL, NEED_REFILL, NEED_BALL)
        )
        measured, wound = NEED_OFF.fullmatch(need), NEED_WOUND.fullmatch(need)
        where = f"before {row}: {need}"
        if of_ball:
            refuse_unless(of_ball[1] in laid, f"{where}: the list does not lay it out now")
            laid.discard(of_ball[1])
            self.fed[of_ball[1]] = re.match(r"[^\W\d_]+", of_ball[1])[0]
        elif measured:
            line = off.get(measured[1])
            refuse_unless(line and OFF_ITS_BALL in line.held, f"{where}: not on the list")
            refuse_unless(line.length == measured[2], f"{where}: the list says {line.length}")
            refuse_unless(self.fed.pop(measured[1], ""), f"{where}: it is on no ball")
        elif refill:
            names = [name for name in self.cut if name.startswith(f"{refill[2]} refill ")]
            waiting = [name for name in names if name not in self.used]
            refuse_unless(waiting, f"{where}: it is not wound")
            refuse_unless(self.cut[waiting[0]] == refill[1], f"{where}: {self.cut[waiting[0]]}")
            self.used.add(waiting[0])
        elif more_ball:
            balls = {name for name in laid if name.startswith(f"{more_ball[2]} refill ")}
            refuse_unless(balls, f"{where}: the list does not lay it out now")
            laid -= balls
        else:
            refuse_unless(wound, f"what is {need!r}?")
            name = wound[1]
            refuse_unless(name in self.cut, f"{where}: it is not cut")
            refuse_unless(self.cut[name] == wound["length"], f"{where}: {self.cut[name]}")
            # What is cut off early is wanted once more, in its row.
            if "cut off now" not in wound["more"]:
                self.used.add(name)
