"""Settings: how the knitter wants the piece planned, and what was decided by hand."""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import PlanError
from planner.units import check_number, check_numbers

# How a strand may be held, from the shortest to the longest.
LOOSE, BUTTERFLY, BOBBIN, BALL = SUPPLIES = ("loose strand", "butterfly", "bobbin", "from the ball")

WAYS_TO_A_MULTIPLIER = ("estimate", "measured", "own", "rule of three")
SHORTEST_YARN = 1.0  # widths of the row: yarn in a row cannot be as short as the row is wide
DROPS = ("short", "long")


@dataclass(frozen=True)
class Allowances:
    """What is added to the yarn in the stitches.

    tail_cm
        Each tail, cm (4 to 6 in, common practice, no source).
    cast_on, bind_off
        Yarn per width of the first and the last row; 0 where the chart is set into a larger piece.
        A long-tail cast-on takes about four widths (common practice, no source), a bind-off up to
        six (published, actechniques.co.uk/blog/2020/10/28).
    short_once_in
        How often a strand may come out too short: once in so many.
    swatch_cm
        The side of the swatch in each yarn, cm.
    spare, label_error
        Shares of the total.
    embroider_factor
        Yarn of a duplicate stitch ÷ that of a knitted one: an assumption, to be measured.
    """

    tail_cm: float = 15
    cast_on: float = 4
    bind_off: float = 6
    short_once_in: float = 20
    swatch_cm: float = 12
    spare: float = 0.05
    label_error: float = 0.10
    embroider_factor: float = 1.1

    def __post_init__(self):
        check_numbers(self, "The allowance {}", least={"short_once_in": 2})
        if self.label_error >= 0.5:
            raise PlanError(
                f"label_error is {self.label_error}; it is a share such as 0.10 for 10 %."
            )


@dataclass(frozen=True)
class Habits:
    """The knitter's ways of holding yarn.

    loose_up_to_cm, butterfly_up_to_cm, bobbin_up_to_cm
        The longest piece held in each of these ways, cm.
    balls_on_table, table, both_ends
        The most balls on the table at one time; whether there is a table; whether one ball may feed
        two strands, from its outside and its inside.
    rewinding
        Whether winding up a bobbin is no bother.
    drop
        Whether the yarn between hand and work is kept "short" or "long".
    narrow_stitches
        A bobbin weighs on areas of up to so many stitches.
    comfortable, crowded
        The most strands at once in an easy and in a busy row; with more it is crowded.
    wrap_cm
        Yarn in one turn round what it is wound on, cm.
    sew_every
        Ends are sewn in after so many rows.
    """

    loose_up_to_cm: float = 275
    butterfly_up_to_cm: float = 1100
    bobbin_up_to_cm: float = 2700
    balls_on_table: int = 4
    table: bool = True
    both_ends: bool = False
    rewinding: bool = True
    drop: str = "short"
    narrow_stitches: int = 4
    comfortable: int = 5
    crowded: int = 11
    wrap_cm: float = 20
    sew_every: int = 10

    def __post_init__(self):
        check_numbers(self, "Among the knitter's ways, {}", most=1e7)
        lengths = (self.loose_up_to_cm, self.butterfly_up_to_cm, self.bobbin_up_to_cm)
        if sorted(lengths) != list(lengths) or self.bobbin_up_to_cm <= 0:
            loose, butterfly, bobbin = lengths
            raise PlanError(
                "A loose strand is the shortest supply and a bobbin the longest; the lengths given "
                f"are {loose:g}, {butterfly:g} and {bobbin:g} cm for loose strand, butterfly and "
                "bobbin."
            )
        if self.drop not in DROPS:
            raise PlanError(
                f'The yarn between hand and work is kept "{self.drop}"; it is short or long.'
            )
        if self.comfortable < 1 or self.crowded < self.comfortable or not self.wrap_cm > 0:
            raise PlanError(
                "Among the knitter's ways, comfortable is 1 or more, crowded no less, and a wrap "
                "more than 0 cm."
            )

    def word(self, live: int) -> str:
        """How full a row is with so many strands live: easy, busy or crowded."""
        if live <= self.comfortable:
            return "easy"
        return "busy" if live <= self.crowded else "crowded"


@dataclass(frozen=True)
class Weighing:
    """How far the tool looks for other choices, and what an end costs.

    embroider_stitches, embroider_wide
        Areas of up to so many stitches, or up to so many wide, are offered for embroidery
        (practitioners' pages: single stitches, thin lines, dots, patches to about 12 stitches).
    carry_stitches, carry_rows
        Carries of up to so much beyond the limits are offered (the longest that practitioners speak
        of).
    most_live
        Strands at once that are never to be exceeded.
    minutes_per_end
        Time to sew in an end: an assumption (one to two minutes, zhelle.dk/2015/01); time yours.
    """

    embroider_stitches: int = 12
    embroider_wide: int = 3
    carry_stitches: int = 7
    carry_rows: int = 4
    most_live: int = 12
    minutes_per_end: float = 2

    def __post_init__(self):
        whole = (
            "embroider_stitches",
            "embroider_wide",
            "carry_stitches",
            "carry_rows",
            "most_live",
        )
        check_numbers(self, "Among the weights, {}", whole=whole)
        if self.most_live < 1:
            raise PlanError(
                f"At most {self.most_live} strands at once is too few: any row needs one."
            )


def check_multiplier(value: float) -> None:
    """Refuse a multiplier that no yarn can have."""
    check_number(value, "The multiplier")
    if not value > SHORTEST_YARN:
        raise PlanError(
            f"The multiplier is {value:g}; the yarn in a row cannot be as short as the row is wide. "
            "Divide the length of yarn by the width of the stitches it made; most hands come out "
            "between 3 and 4.3."
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

    def __post_init__(self):
        if self.way not in WAYS_TO_A_MULTIPLIER:
            raise PlanError(
                f'The multiplier is by "{self.way}"; it is one of '
                f"{', '.join(WAYS_TO_A_MULTIPLIER)}."
            )
        if self.way == "own" and self.value is None:
            raise PlanError(
                "Your own multiplier is wanted but its value is missing. Give the yarn in a row ÷ "
                "the row's width."
            )
        if self.spread is not None:
            check_number(self.spread, "The spread of your own multiplier")
        if self.way == "own":
            check_number(self.value, "Your own multiplier")
            check_multiplier(self.value)


@dataclass(frozen=True)
class OwnChoice:
    """Something decided by hand about a yarn at a place of the piece.

    `row` is the worked row and `stitch` the stitch from the right, both from 1. What may be decided,
    and what each place stands for, is told in planner/choices/ask.py.
    """

    about: str
    yarn: str
    row: int
    stitch: int
    part: str
    choice: str
