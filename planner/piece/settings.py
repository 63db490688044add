"""Settings: how the knitter wants the piece planned, and what was decided by hand.

Figures that a knitter may not know are set to what is usual; where that comes from stands beside
each.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from planner.errors import PlanError
from planner.units import check_number, check_numbers

# How a strand may be held, from the shortest to the longest.
LOOSE, BUTTERFLY, BOBBIN, BALL = SUPPLIES = ("loose strand", "butterfly", "bobbin", "from the ball")

WAYS_TO_A_MULTIPLIER = ("estimate", "measured", "own", "rule of three")
SHORTEST_YARN = 1.0  # widths of the row: yarn in a row cannot be as short as the row is wide
DROPS = ("short", "long")
# How the work is turned after each row: back the way it came, or always on in one way.
ALTERNATE, SAME_WAY = TURNINGS = ("alternate", "same way")
# Which edge goes away from the knitter in the first turn: the one that the row came to last, or the
# one that it began at.
LAST_EDGE, FIRST_EDGE = FIRST_TURNS = ("last edge away", "first edge away")
# The yarns of which a swatch is counted.
EVERY_YARN, _, NO_YARN = SWATCH_IN = ("every yarn", "the ground yarn", "no yarn")
# Where one sits, and the most balls that lie still beside the work there. At a table it is as many
# as the knitter says; on a sofa one at either side (judgement); in a train none.
TABLE, SOFA, TRAIN = PLACES = ("table", "sofa", "train")
BALLS_ON_SOFA = 2
SITTING = re.compile(r"\s*(?:rows?\s+)?(\d{1,6})\s*[-–]\s*(\d{1,6})\s+(\w+)\s*")


class Sitting(NamedTuple):
    """A stretch of worked rows, from 1, that is knitted in another place than the rest."""

    from_row: int
    to_row: int
    place: str


@dataclass(frozen=True)
class Allowances:
    """What is added to the yarn in the stitches, and how much of it is embroidered."""

    # Each tail (4 to 6 in, common practice, no source).
    tail_cm: float = 15
    # Yarn per width of the first and the last row; 0 where the chart is set into a larger piece.
    # A long-tail cast-on takes about four widths (common practice, no source), a bind-off up to
    # six (published, actechniques.co.uk/blog/2020/10/28).
    cast_on: float = 4
    bind_off: float = 6
    # How often a strand may come out too short: once in so many.
    short_once_in: float = 20
    # The side of a swatch.
    swatch_cm: float = 12
    # Shares of the total: to spare, and by how much a ball may be shorter than its band says.
    spare: float = 0.05
    label_error: float = 0.10
    # Yarn of a duplicate stitch ÷ that of a knitted one: an assumption, to be measured.
    embroider_factor: float = 1.1
    # In which yarns there is a swatch; the ground yarn is that of most stitches.
    swatch_in: str = EVERY_YARN
    # The letter of the yarn in which all stitches are cast on; empty where each section of the
    # first row is cast on in its own.
    cast_on_in: str = ""

    def __post_init__(self) -> None:
        # Short once in 1 would be always.
        check_numbers(self, "The allowance {}", least={"short_once_in": 2})
        if self.swatch_in not in SWATCH_IN:
            raise PlanError(
                f'A swatch is wanted in "{self.swatch_in}"; it is one of {", ".join(SWATCH_IN)}.'
            )
        # A per cent typed for a share: 10 would take off ten times the ball.
        if self.label_error >= 0.5:
            raise PlanError(
                f"label_error is {self.label_error}; it is a share such as 0.10 for 10 %."
            )

    @property
    def casts_on_in_one(self) -> bool:
        """Whether all stitches are cast on with a length of one yarn."""
        return bool(self.cast_on and self.cast_on_in)

    @property
    def section_cast_on(self) -> float:
        """Yarn that each strand of the first row casts on with, in widths of its stitches."""
        return 0.0 if self.cast_on_in else self.cast_on


@dataclass(frozen=True)
class Habits:
    """The knitter's ways of holding yarn."""

    # The longest piece held in each of these ways.
    loose_up_to_cm: float = 275
    butterfly_up_to_cm: float = 1100
    bobbin_up_to_cm: float = 2700
    # The most balls on the table at one time.
    balls_on_table: int = 4
    # Where the piece is knitted, and where else some rows are: "30-60 train, 80-90 sofa".
    place: str = TABLE
    elsewhere: str = ""
    # Whether one ball may feed two strands, from its outside and its inside.
    both_ends: bool = False
    # Whether winding up a bobbin is no bother.
    rewinding: bool = True
    # Whether the yarn between hand and work is kept short or long.
    drop: str = "short"
    # A bobbin weighs on areas of up to so many stitches.
    narrow_stitches: int = 4
    # The most lengths at once in an easy and in a busy row; with more it is crowded.
    comfortable: int = 5
    crowded: int = 11
    # Yarn in one turn round what it is wound on.
    wrap_cm: float = 20
    # Ends are sewn in after so many rows.
    sew_every: int = 10
    # Whether tails are caught as they are knitted, over the next stitches of their own yarn.
    tails_caught: bool = False
    # How the work is turned, and which edge goes away from the knitter first.
    turning: str = ALTERNATE
    first_turn: str = LAST_EDGE
    # The most full turns that the yarns of two balls keep round each other (judgement).
    twists_allowed: int = 3

    def __post_init__(self) -> None:
        # A row that begins or ends beside another ball's makes a turn that the next takes out.
        check_numbers(
            self,
            "Among the knitter's ways, {}",
            whole=("twists_allowed",),
            least={"twists_allowed": 1},
            most=1e7,
        )
        loose, butterfly, bobbin = (
            self.loose_up_to_cm,
            self.butterfly_up_to_cm,
            self.bobbin_up_to_cm,
        )
        if not loose <= butterfly <= bobbin or bobbin <= 0:
            raise PlanError(
                "A loose strand is the shortest supply and a bobbin the longest, but the lengths "
                "given are not in this order, or all are 0. Give the bobbin the longest of them."
            )
        for place in (self.place, *(sitting.place for sitting in self.sittings)):
            if place not in PLACES:
                raise PlanError(
                    f'The place to knit is "{place}"; it is one of {", ".join(PLACES)}.'
                )
        if self.drop not in DROPS:
            raise PlanError(
                f'The yarn between hand and work is kept "{self.drop}"; it is short or long.'
            )
        if self.turning not in TURNINGS or self.first_turn not in FIRST_TURNS:
            raise PlanError(
                f'The work is turned "{self.turning}", at first "{self.first_turn}"; the one is '
                f"{' or '.join(TURNINGS)}, the other {' or '.join(FIRST_TURNS)}."
            )
        if self.comfortable < 1 or self.crowded < self.comfortable or not self.wrap_cm > 0:
            raise PlanError(
                "Among the knitter's ways, comfortable is 1 or more, crowded no less, and a wrap "
                "more than 0."
            )

    @property
    def sittings(self) -> tuple[Sitting, ...]:
        """The stretches of rows that are knitted elsewhere, as they were typed."""
        sittings = []
        for words in filter(str.strip, re.split("[,;]", self.elsewhere)):
            match = SITTING.fullmatch(words)
            if not match or not 1 <= int(match[1]) <= int(match[2]):
                raise PlanError(
                    f'Elsewhere is "{words.strip()}"; write the rows and the place, such as '
                    '"30-60 train", several parted by commas.'
                )
            sittings.append(Sitting(int(match[1]), int(match[2]), match[3].lower()))
        return tuple(sittings)

    def room(self, rows: int) -> list[int]:
        """The most balls beside the work in each of so many worked rows."""
        most = {TABLE: self.balls_on_table, SOFA: min(BALLS_ON_SOFA, self.balls_on_table), TRAIN: 0}
        room = [most[self.place]] * rows
        for sitting in self.sittings:
            in_rows = range(sitting.from_row - 1, min(sitting.to_row, rows))
            for row in in_rows:
                room[row] = most[sitting.place]
        return room

    def word(self, live: int) -> str:
        """How full a row is with so many lengths at once: easy, busy or crowded."""
        if live <= self.comfortable:
            return "easy"
        return "busy" if live <= self.crowded else "crowded"


@dataclass(frozen=True)
class Weighing:
    """How far the tool looks for other choices, and what an end costs."""

    # Areas of up to so many stitches, or whose widest run has no more than so many, are offered for
    # embroidery (practitioners' pages: single stitches, thin lines, dots, patches to about 12
    # stitches). A diagonal line of single stitches is one wide, however far it goes; but what is
    # only thin is offered up to a quarter of the chart.
    embroider_stitches: int = 12
    embroider_wide: int = 3
    # Carries of up to so much beyond the limits are offered (the longest that practitioners speak
    # of).
    carry_stitches: int = 7
    carry_rows: int = 4
    # Lengths at once that are never to be exceeded.
    most_live: int = 12
    # Time to sew in an end: an assumption (one to two minutes, zhelle.dk/2015/01); time yours.
    minutes_per_end: float = 2

    def __post_init__(self) -> None:
        counts = (
            *("embroider_stitches", "embroider_wide"),
            *("carry_stitches", "carry_rows", "most_live"),
        )
        check_numbers(self, "Among the weights, {}", whole=counts)
        if self.most_live < 1:
            raise PlanError(f"At most {self.most_live} at once is too few: any row needs one.")


def check_multiplier(value: float) -> None:
    """Refuse a multiplier that no yarn can have."""
    check_number(value, "The multiplier")
    if not value > SHORTEST_YARN:
        raise PlanError(
            f"The multiplier is {value:g}; the yarn in a row cannot be as short as the row is "
            "wide. Divide the length of yarn by the width of the stitches it made; most hands come "
            "out between 3 and 4.3."
        )


@dataclass(frozen=True)
class MultiplierChoice:
    """Where the multiplier comes from.

    `way` is the estimate before any swatch, what was measured, the knitter's own figure (`value`,
    with or without a `spread`), or the plain rule of three.
    """

    way: str = "estimate"
    value: float | None = None
    spread: float | None = None

    def __post_init__(self) -> None:
        if self.way not in WAYS_TO_A_MULTIPLIER:
            raise PlanError(
                f'The multiplier is by "{self.way}"; it is one of '
                f"{', '.join(WAYS_TO_A_MULTIPLIER)}."
            )
        # A figure that is kept while another way is chosen is not looked at.
        own_figure = self.value if self.way == "own" else None
        if self.way == "own" and own_figure is None:
            raise PlanError(
                "Your own multiplier is wanted but its value is missing. Give the yarn in a row ÷ "
                "the row's width."
            )
        if self.spread is not None:
            check_number(self.spread, "The spread of your own multiplier")
        if own_figure is not None:
            check_number(own_figure, "Your own multiplier")
            check_multiplier(own_figure)


@dataclass(frozen=True)
class OwnChoice:
    """Something decided by hand about a yarn at a place of the piece.

    `row` is the worked row and `stitch` the stitch from the right, both from 1. What may be
    decided, and what each place stands for, is told in the room planner.choices.
    """

    about: str
    yarn: str
    row: int
    stitch: int
    part: str
    # Empty where an earlier choice is withdrawn.
    choice: str
