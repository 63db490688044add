"""Ways: the mix of supplies as planned and its best alternative, section by section."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, SUPPLIES, Project
from planner.strands import Strands
from planner.supplies import (
    LONGEST_LOOSE_CM,
    Feeding,
    Held,
    Part,
    Section,
    Table,
    capacity_cm,
    find_sections,
    suits,
    way_to_wind,
)
from planner.units import counted, in_whole_steps

MIX = "as planned"
# A shorter butterfly would hardly go round the fingers (judgement).
SHORTEST_BUTTERFLY_CM = 100

# What speaks for each supply, wherever it hangs.
GOOD_AT = {
    LOOSE: "drawn free of each other",
    BUTTERFLY: "no weight on the work",
    BOBBIN: "holds the most, rewound as you go",
    BALL: "no winding, nothing runs short",
}


@dataclass(frozen=True)
class Exchange:
    """An alternative to the mix: all that is held in some ways is held in another."""

    name: str
    out: tuple[str, ...]
    into: str
    good: str


# "" stands for whatever suits each length best among what is wound.
EXCHANGES = (
    Exchange("fewer balls", (BALL,), "", "what hangs is dropped through, a ball is not"),
    Exchange("more from the ball", (LOOSE, BUTTERFLY, BOBBIN), BALL, GOOD_AT[BALL]),
    Exchange("butterflies loose", (BUTTERFLY,), LOOSE, GOOD_AT[LOOSE]),
    Exchange("bobbins as butterflies", (BOBBIN,), BUTTERFLY, GOOD_AT[BUTTERFLY]),
    Exchange("butterflies on bobbins", (BUTTERFLY,), BOBBIN, GOOD_AT[BOBBIN]),
    Exchange("loose strands as butterflies", (LOOSE,), BUTTERFLY, GOOD_AT[BUTTERFLY]),
)


@dataclass(frozen=True)
class HeldSo:
    """A part as one of the ways holds it: on its ball before a worked row, from 0, then wound.

    `last_cm` is the length that is held so last; `exchanged` says whether the mix holds it another
    way.
    """

    held: Held
    supply: str
    ball_until: int
    refills: int
    last_cm: float
    exchanged: bool = True

    def on_ball(self, section: Section) -> bool:
        """Whether it is fed from the ball all through its rows in a section."""
        return self.ball_until > min(section.last, self.held.part.last_row)

    def wound_in(self, section: Section) -> list[tuple[str, int]]:
        """The pieces that are to be wound for rows of a section, each by a name of its own."""
        part = self.held.part
        rows = [stage.row for stage in self.held.stages if stage.supply != BALL]
        if self.exchanged:
            rows = [self.ball_until] if self.supply != BALL else []
        pieces = []
        for number, row in enumerate(rows):
            begins_strand = row == part.hangs_from and not number
            # The halves of a strand begun from its middle are wound in one piece.
            piece = (part.label, 0) if begins_strand else (part.title, number + 1)
            if section.first <= row <= section.last:
                pieces.append(piece)
        return pieces


@dataclass(frozen=True, eq=False)
class Way:
    """One way of holding all that lives in a section, counted up."""

    name: str
    parts: tuple[HeldSo, ...]
    in_words: str
    to_wind: int
    most_at_once: int
    most_hanging: int
    balls: Mapping[str, int]
    balls_by_row: np.ndarray
    refills: int
    for_it: str
    against: tuple[str, ...]


def compare_ways(
    strands: Strands,
    held: Sequence[Held],
    project: Project,
    *,
    balls: Mapping[str, Sequence[float]],
) -> pd.DataFrame:
    """One or two rows a section: the mix as planned, then its best alternative, with reasons.

    `balls` are the lengths of the balls of each yarn in hand or to be bought, cm. A way that takes
    more joins than the mix, or more balls than there are or than there is room for, is not named.

    What is to be wound counts in the section where it is first needed. All lengths of a row are at
    once, fed from balls or not.
    """
    lines = []
    for section, way in find_ways(strands, held, project, balls=balls):
        lines.append(
            {
                "rows": f"{section.first + 1}–{section.last + 1}",
                "load": section.load,
                "way": way.name,
                "held": way.in_words,
                "lengths_to_wind": way.to_wind,
                "most_at_once": way.most_at_once,
                "balls_on_table": int(way.balls_by_row.max()),
                "refills": way.refills,
                "for": way.for_it,
                "against": "; ".join(way.against),
            }
        )
    return pd.DataFrame(lines)


def find_ways(
    strands: Strands,
    held: Sequence[Held],
    project: Project,
    *,
    balls: Mapping[str, Sequence[float]],
) -> list[tuple[Section, Way]]:
    """The ways that `compare_ways` shows, each with its section."""
    found = []
    room = np.array(project.habits.room(strands.runs.rows))
    shelf = _Shelf(held, Table(project.habits, balls, room), project.units)
    for section in find_sections(strands.live, project.habits):
        in_section = [each for each in held if section.holds(each.part)]
        counter = _Counter(section, project, room[section.first : section.last + 1])
        mix = counter.count(MIX, [_as_planned(each) for each in in_section])
        best = _best_alternative(counter, mix, shelf)
        found += [(section, way) for way in (mix, best) if way]
    return found


def _as_planned(held: Held) -> HeldSo:
    last = held.stages[-1]
    until, last_cm = held.on_ball_until(), last.length_cm
    return HeldSo(held, last.supply, until, held.refills, last_cm, exchanged=False)


def _best_alternative(
    counter: _Counter,
    mix: Way,
    shelf: _Shelf,
) -> Way | None:
    """The exchange with the least against it; None if none makes sense."""
    candidates = []
    supplies = [counter.supply_of(each) for each in mix.parts]
    for exchange in EXCHANGES:
        parts = []
        for each, supply in zip(mix.parts, supplies, strict=True):
            is_out = supply in exchange.out
            parts.append(_exchanged(exchange, each, counter) if is_out else each)
        # Many exchanges concern nothing in the section: there is nothing to count.
        if not any(each.exchanged for each in parts):
            continue
        way = counter.count(f"or {exchange.name}", parts)
        way = replace(way, for_it=exchange.good, against=(*_more_than(mix, way), *way.against))
        if way.in_words != mix.in_words and shelf.feeds(parts):
            candidates.append(way)
    # Of equals the first named: what changes the most for the knitter.
    return min(candidates, key=lambda way: len(way.against), default=None)


def _more_than(mix: Way, way: Way) -> list[str]:
    """What a way takes more of than the mix."""
    more = []
    if way.to_wind > mix.to_wind:
        more.append(f"{way.to_wind - mix.to_wind} more to wind")
    if way.most_hanging > mix.most_hanging:
        more.append(f"{way.most_hanging - mix.most_hanging} more hang")
    more_balls = int(way.balls_by_row.max() - mix.balls_by_row.max())
    if more_balls > 0:
        more.append(f"{counted(more_balls, 'ball')} more on the table")
    return more


class _Shelf:
    """The balls, and the parts of the whole piece that they may feed."""

    def __init__(self, held: Sequence[Held], table: Table, units: str):
        self.held, self.table = held, table
        self.cm: dict[str, float] = defaultdict(float)
        for each in held:
            self.cm[each.part.label] += in_whole_steps(each.part.wound_cm, units)

    def feeds(self, parts: Sequence[HeldSo]) -> bool:
        """Whether the balls feed these parts as well as all others, without one more join."""
        table = Table(self.table.habits, self.table.balls, self.table.room)
        exchanged = {each.held.part: each for each in parts if each.exchanged}
        for each in self.held:
            if each.part not in exchanged:
                self._lay(table, each)
        for part, held_so in exchanged.items():
            is_fed = held_so.ball_until > part.hangs_from
            if is_fed and table.feed(self._feeding(part, held_so.ball_until)):
                return False
        return True

    def _lay(self, table: Table, held: Held) -> None:
        """Lay out the balls of a part as it is planned."""
        part = held.part
        for stage in held.stages:
            if not stage.ball:
                continue
            fed = self._feeding(part, held.on_ball_until())
            if held.refills:
                fed = replace(fed, length_cm=stage.length_cm)
            of_yarn = table.fed.setdefault(part.yarn, [])
            of_yarn.append(replace(fed, ball=stage.ball - 1))

    def _feeding(self, part: Part, until: int) -> Feeding:
        # The halves of a strand are one length: what is wound of it comes off the same ball.
        length_cm = self.cm[part.label]
        return Feeding(part.number, part.yarn, part.hangs_from, until - 1, length_cm)


def _exchanged(exchange: Exchange, planned: HeldSo, counter: _Counter) -> HeldSo:
    """A part that is out after an exchange; as it was where the exchange would be absurd."""
    held, habits = planned.held, counter.habits
    part = held.part
    yarn = counter.yarns[part.yarn]
    # What the knitter decided, what must not be cut and what is joined is so in every way.
    if held.by_hand or not yarn.may_be_cut or held.refills:
        return planned
    into = exchange.into
    if into == BALL:
        # A ball has no middle to begin from.
        if held.typical <= habits.narrow_stitches or not part.is_whole:
            return planned
        return HeldSo(held, BALL, part.last_row + 1, 0, part.wound_cm)
    # What is fed from its ball in these rows would be wound from its first row on; what is measured
    # off its ball sooner or later stays so.
    on_ball = planned.on_ball(counter.section)
    begins = part.hangs_from if on_ball else planned.ball_until
    length_cm = part.wound_cm if on_ball else planned.last_cm
    # One supply's limit is that of its longest piece, whatever the yarn is like.
    best, _ = way_to_wind(length_cm, yarn, habits, crowded=held.live > habits.crowded)
    into = into or best
    longest_cm = LONGEST_LOOSE_CM if into == LOOSE else capacity_cm(habits, into)
    too_short = into == BUTTERFLY and length_cm < SHORTEST_BUTTERFLY_CM
    if length_cm > longest_cm or too_short or not suits(yarn, into):
        return planned
    return HeldSo(held, into, begins, 0, length_cm)


class _Counter:
    """Counts up a way in one section; `room` is the room for balls in each of its rows."""

    def __init__(self, section: Section, project: Project, room: np.ndarray):
        self.section, self.room = section, room
        self.habits, self.yarns = project.habits, project.all_yarns

    def supply_of(self, each: HeldSo) -> str:
        """How a part is held in the rows of the section."""
        return BALL if each.on_ball(self.section) else each.supply

    def count(self, name: str, parts: Sequence[HeldSo]) -> Way:
        """What it takes to hold these parts so in the rows of the section."""
        hanging = self._by_row(parts, on_ball=False)
        live = hanging + self._by_row(parts, on_ball=True)
        laid = {}
        ends = 2 if self.habits.both_ends else 1
        on_ball = [each for each in parts if each.ball_until > each.held.part.hangs_from]
        for letter in sorted({each.held.part.yarn for each in parts}):
            of_yarn = [each for each in on_ball if each.held.part.yarn == letter]
            fed = self._by_row(of_yarn, on_ball=True)
            laid[letter] = -(-fed // ends)
        # Not the sum of each yarn's most: those need not fall in the same row.
        at_once = np.sum([np.zeros(self.section.length, dtype=int), *laid.values()], axis=0)
        wound: set[tuple[str, int]] = set()
        for each in parts:
            wound.update(each.wound_in(self.section))
        refills = sum(each.refills for each in parts)
        kinds = Counter(self.supply_of(each) for each in parts)
        in_words = ", ".join(f"{number} × {kind}" for kind, number in kinds.most_common())
        way = Way(
            name=name,
            parts=tuple(parts),
            in_words=in_words,
            to_wind=len(wound),
            most_at_once=int(live.max()),
            most_hanging=int(hanging.max()),
            balls={letter: int(by_row.max()) for letter, by_row in laid.items()},
            balls_by_row=at_once,
            refills=refills,
            for_it="; ".join(f"{kind}: {GOOD_AT[kind]}" for kind in SUPPLIES if kind in kinds),
            against=(),
        )
        return replace(way, against=tuple(self._against(way)))

    def _by_row(self, parts: Sequence[HeldSo], *, on_ball: bool) -> np.ndarray:
        """How many of these parts hang (or are fed from balls) in each row of the section."""
        # By row, how many more there are than in the row before; the last one is past the section.
        more = [0] * (self.section.length + 1)
        for each in parts:
            part = each.held.part
            first, done = part.hangs_from, part.last_row + 1
            rows = (first, each.ball_until) if on_ball else (max(first, each.ball_until), done)
            # Rows of the section are counted from its first; a part may have begun before it.
            begins = max(rows[0] - self.section.first, 0)
            ends = min(rows[1] - self.section.first, self.section.length)
            if begins < ends:
                more[begins] += 1
                more[ends] -= 1
        live: np.ndarray = np.cumsum(more)[:-1]
        return live

    def _against(self, way: Way) -> list[str]:
        """What speaks against a way."""
        habits, against = self.habits, []
        wound = [each for each in way.parts if not each.on_ball(self.section)]
        too_many = way.balls_by_row > self.room
        if too_many.any():
            most, room = way.balls_by_row[too_many][0], self.room[too_many][0]
            against.append(f"{most} balls at once where you have room for {room}")
        if way.refills:
            against.append(counted(way.refills, "refill"))
        if way.most_hanging > habits.crowded:
            against.append(f"{way.most_hanging} hang at once")
        bobbins = [each.held for each in wound if each.supply == BOBBIN]
        narrow = [held for held in bobbins if held.typical <= habits.narrow_stitches]
        if narrow:
            swings = "swings" if len(narrow) == 1 else "swing"
            against.append(f"{counted(len(narrow), 'bobbin')} {swings} on a narrow area")
        if bobbins and not habits.rewinding:
            against.append("you would rather not rewind")
        if any(each.supply == BUTTERFLY for each in wound) and habits.drop == "long":
            against.append("butterflies cannot be rewound, and your drops are long")
        too_long = [each for each in wound if each.supply == LOOSE and self._is_long(each)]
        if too_long:
            against.append(f"{counted(len(too_long), 'loose strand')} longer than you like")
        on_ball = [each.held for each in way.parts if each.on_ball(self.section)]
        if on_ball and self.section.load != "easy":
            against.append("balls tangle where many hang")
        narrow = [held for held in on_ball if held.typical <= habits.narrow_stitches]
        if narrow:
            against.append(f"{counted(len(narrow), 'ball')} for a narrow area")
        return against

    def _is_long(self, each: HeldSo) -> bool:
        return each.last_cm > self.habits.loose_up_to_cm
