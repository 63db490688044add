"""Centimetres inside; centimetres and metres, or inches and yards, shown.

Lengths are typed as exact fractions, so that 2.5 cm at 22 stitches in 10 cm is 5.5 stitches and
not 5.499999. Numbers that a knitter gives are checked here, in one way and in the same words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Protocol, TypeGuard

from planner.errors import PlanError
from planner.guards import MOST_NUMBER, check_digits

# Only named here, so that reading a file need not wait for pandas.
if TYPE_CHECKING:
    import pandas as pd
    from _typeshed import DataclassInstance

CM_PER_INCH = Fraction(254, 100)  # exact by definition (international inch, 1959)
CM_PER = {
    "cm": Fraction(1),
    "mm": Fraction(1, 10),
    "m": Fraction(100),
    "in": CM_PER_INCH,
    "yd": 36 * CM_PER_INCH,
}
# What yarn is measured by where a piece is measured in cm or in inches.
LONG_UNIT = {"cm": "m", "in": "yd"}
# What is measured off is listed in these: metres to 5 cm, or whole inches, since a quarter of a
# yard is 9 of them, but an inch is no round part of a yard.
LISTED_UNIT = {"cm": "m", "in": "in"}
# What bands and patterns count a gauge over.
LENGTH_OF_A_GAUGE = {"cm": 10, "in": 4}
# Nobody winds to the millimetre: 5 cm, or a quarter of a yard; up to a yard, an inch.
ROUND_UP_TO = {"cm": Fraction(5), "in": CM_PER["yd"] / 4}
# The same as floats, for every piece of yarn is rounded so.
STEP_CM, INCH_CM = {units: float(step) for units, step in ROUND_UP_TO.items()}, float(CM_PER_INCH)
INCHES_IN_A_YARD, INCHES_IN_A_QUARTER = 36, 9
# Lengths are sums of floats; so much of a step too long is no reason for a whole step more.
ROUNDING_ERROR = 1e-9
# Nine times in ten: of the normal distribution 5 % lie so many spreads below, and as much above.
SPREADS_EACH_WAY = 1.6449
# What is known of a figure: it was measured, or it is no more than likely.
MEASURED, NOT_MEASURED = "measured", "an estimate"
WIDE_RANGE = 0.5  # a range that is told to a tenth


def exact(number: float | str | Fraction, what: str) -> Fraction:
    """The number as it was typed, as an exact fraction; `what` names it in the error.

    A decimal comma is as good as a point. Before three digits it may part thousands, so that is
    asked back.
    """
    if isinstance(number, Fraction):
        return number
    if isinstance(number, int) and abs(number) > MOST_NUMBER:
        raise PlanError(f"{what} is more than {MOST_NUMBER:,.0f}, which cannot be meant.")
    # By way of its text: 0.1 is meant as one tenth, not as the float nearest to it.
    text = str(number).strip()
    check_digits(text, what)
    may_be_thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", text)
    try:
        if re.fullmatch(r"[-+]?\d+,\d+", text) and not may_be_thousands:
            return Fraction(text.replace(",", "."))
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        hint = ""
        if may_be_thousands:
            point, none = text.replace(",", "."), text.replace(",", "")
            hint = f' Write a decimal point: "{point}"; or "{none}", if thousands are meant.'
        raise PlanError(f'{what} is "{text}", which is not a number.{hint}') from None


def _is_finite_number(value: object) -> TypeGuard[int | float | Fraction]:
    # True and False are ints to Python, but not to a knitter.
    if isinstance(value, bool) or not isinstance(value, int | float | Fraction):
        return False
    # Whole numbers are finite, also where no float can hold them.
    return not isinstance(value, float) or math.isfinite(value)


def check_number(
    value: object,
    what: str,
    *,
    least: float = 0.0,
    above: float | None = None,
    most: float = MOST_NUMBER,
) -> None:
    """Refuse what is not a number of at least `least` (or more than `above`) and at most `most`."""
    bound = f"{least:g} or more" if above is None else f"more than {above:g}"
    if not _is_finite_number(value):
        raise PlanError(f"{what} is {value!r}; a number, {bound}, was expected.")
    if value > most:
        raise PlanError(f"{what} is {_short(value)}; it must be {bound}, and at most {most:g}.")
    if value < least or (above is not None and value <= above):
        raise PlanError(f"{what} is {_short(value)}; it must be {bound}.")


def _short(number: int | float | Fraction) -> str:
    """A number in six digits, also where no float can hold it."""
    try:
        return f"{float(number):g}"
    except OverflowError:
        return "a number of hundreds of digits"


def check_numbers(
    settings: DataclassInstance,
    what: str,
    *,
    least: Mapping[str, float] | None = None,
    most: float = 1e6,
    whole: Sequence[str] = (),
) -> None:
    """Check each number among the fields of a settings type.

    `what` has a place for the field's name in words; `least` names the fields that have a bound
    other than 0, `whole` those that take whole numbers only. Numbers are told by their defaults.
    """
    bounds = least or {}
    for field in fields(settings):
        if not _is_finite_number(field.default):
            continue
        value = getattr(settings, field.name)
        name = what.format(in_words(field.name))
        check_number(value, name, least=bounds.get(field.name, 0), most=most)
        if field.name in whole and value != int(value):
            raise PlanError(f"{name} is {value:g}; a whole number was expected.")


def to_cm(length: float | str | Fraction, unit: str, what: str = "The length") -> Fraction:
    """A length in cm, exactly."""
    if unit not in CM_PER:
        raise PlanError(f'{what} has the unit "{unit}"; use one of {", ".join(CM_PER)}.')
    return exact(length, what) * CM_PER[unit]


def parse_length(text: str, what: str = "The length") -> Fraction:
    """A length such as "2.5 cm" or "1 in", in cm."""
    # A comma is let through: `exact` knows which are decimal ones.
    match = re.fullmatch(r"\s*([-+]?[\d.,/]+)\s*([a-z]+)\s*", text)
    if not match:
        raise PlanError(
            f'{what} is "{text}"; write a number and a unit, such as "2.5 cm" or "1 in".'
        )
    number, unit = match.groups()
    return to_cm(number, unit, what)


def rounded_up(length_cm: float, units: str) -> float:
    """The length in cm, rounded up to what one measures yarn by.

    That is 5 cm; in inches and yards a whole inch up to a yard, then a quarter of a yard.
    """
    if units == "in":
        inches = length_cm / INCH_CM
        if inches <= INCHES_IN_A_YARD + ROUNDING_ERROR:
            return math.ceil(inches - ROUNDING_ERROR) * INCH_CM
    return in_whole_steps(length_cm, units)


def rounded_down(length_cm: float, units: str) -> float:
    """The length in cm, rounded down to 5 cm or to a quarter of a yard; endless stays endless."""
    step = STEP_CM[units]
    if math.isinf(length_cm):
        return length_cm
    return math.floor(length_cm / step + ROUNDING_ERROR) * step


def in_whole_steps(length_cm: float, units: str) -> float:
    """The length in cm, rounded up to 5 cm or to a quarter of a yard, however short it is.

    That is no less than `rounded_up` makes of it, and sums and differences of such lengths are such
    lengths again.
    """
    step = STEP_CM[units]
    return math.ceil(length_cm / step - ROUNDING_ERROR) * step


def show(length_cm: float, units: str) -> str:
    """A yarn length in words: "0.95 m"; "27 in", "1.25 yd", and exactly "2 yd 3 in"."""
    unit = LONG_UNIT[units]
    in_long_unit = f"{length_cm / float(CM_PER[unit]):.2f} {unit}"
    if units == "cm":
        return in_long_unit
    inches = round(length_cm / float(CM_PER_INCH), 1)
    if abs(inches) < INCHES_IN_A_YARD:
        return f"{inches:g} in"
    # Two halves, each rounded up, may come to inches that are no quarter of a yard.
    whole = round(inches)
    is_whole = abs(length_cm - whole * float(CM_PER_INCH)) < ROUNDING_ERROR * length_cm
    if is_whole and whole % INCHES_IN_A_QUARTER:
        yards, over = divmod(whole, INCHES_IN_A_YARD)
        return f"{yards} yd {over} in"
    return in_long_unit


def show_short(length_cm: float, units: str) -> str:
    """A short length as it was asked for, in words: "15 cm", "6 in"."""
    if units == "cm":
        return f"{length_cm:g} cm"
    return f"{round(length_cm / float(CM_PER_INCH), 1):g} in"


def show_measured(length_cm: float, units: str, digits: int = 1) -> str:
    """A short length in words, as it stands in a sum: "40 cm", "15.7 in"."""
    return f"{figure(length_cm / float(CM_PER[units]), digits)} {units}"


def show_per_gram(metres_per_gram: float, units: str) -> str:
    """A length in a gram, in words: "2.5 m/g", "2.734 yd/g"."""
    if units == "cm":
        return f"{metres_per_gram:.3g} m/g"
    # Bands give metres, which are no round yards; a sum made with them should come out.
    return f"{metres_per_gram * 100 / float(CM_PER['yd']):.4g} yd/g"


def shown(table: pd.DataFrame, units: str, digits: int = 2) -> pd.DataFrame:
    """The same table with every `…_cm` column turned into metres (`…_m`) or yards (`…_yd`)."""
    unit = LONG_UNIT[units]
    cm_per_unit = float(CM_PER[unit])
    new_names: dict[str, str] = {}
    scaled: dict[str, Any] = {}
    for name in table:
        if name.endswith("_cm"):
            new_names[name] = name.removesuffix("_cm") + f"_{unit}"
            scaled[name] = (table[name] / cm_per_unit).round(digits)
    # Renamed in a second step: columns added under new names would go to the end of the table.
    return table.assign(**scaled).rename(columns=new_names)


# No figure says more than is known. What is measured off is exact (`show`). A sum of lengths is
# rounded once, from its exact record: to a tenth of a metre or yard in a table, in a sentence to a
# whole one from 10 on. A chance is whole percent.


def half_up(number: float, digits: int = 0) -> float:
    """The number to so many digits, a half always away from 0."""
    # To the nearest even digit, as Python rounds, 0.25 + 0.10 would be shown as 0.2 + 0.1 = 0.4.
    steps = abs(number) * 10**digits
    if not math.isfinite(steps):
        return number
    nearest = math.floor(steps + 0.5 + ROUNDING_ERROR) / 10**digits
    return -nearest if number < 0 < nearest else nearest


def tenth_up(length_cm: float, units: str) -> float:
    """The length in cm, rounded up to a tenth of a metre or yard."""
    step = float(CM_PER[LONG_UNIT[units]]) / 10
    return math.ceil(length_cm / step - ROUNDING_ERROR) * step


def show_total(length_cm: float, units: str) -> str:
    """A sum of lengths in words: "107 yd", "9.8 m", "-0.4 m"."""
    unit = LONG_UNIT[units]
    total = length_cm / float(CM_PER[unit])
    tenths = half_up(total, 1)
    words = f"{tenths:.1f}" if abs(tenths) < 10 else f"{half_up(total):,.0f}"
    return f"{words} {unit}"


def shown_totals(table: pd.DataFrame, units: str) -> pd.DataFrame:
    """The same table with every `…_cm` column, of sums, in metres or yards to a tenth."""
    unit = LONG_UNIT[units]
    cm_per_unit = float(CM_PER[unit])
    tenths = {}
    for name in table:
        if name.endswith("_cm"):
            totals = table[name].astype(float) / cm_per_unit
            tenths[name] = totals.map(lambda total: half_up(total, 1))
    new_names = {name: f"{name.removesuffix('_cm')}_{unit}" for name in tenths}
    return table.assign(**tenths).rename(columns=new_names)


def figure(number: float, digits: int = 1) -> str:
    """A number in a sum to be followed on paper, no zeros behind the point: "30", "612.3"."""
    words = f"{half_up(number, digits):.{digits}f}"
    return words.rstrip("0").rstrip(".") if digits else words


def between(value: float, spread: float) -> str:
    """The two figures between which a value lies nine times in ten: "between 3.0 and 4.4".

    `spread` is its standard error.
    """
    reach = SPREADS_EACH_WAY * spread
    return in_range(value - reach, value + reach)


def in_range(low: float, high: float) -> str:
    """A range in words: "between 3.0 and 4.4"."""
    # More digits of a wide range would look surer than they are.
    digits = 1 if high - low >= WIDE_RANGE else 2
    return f"between {low:.{digits}f} and {high:.{digits}f}"


class Known(Protocol):
    """A figure with its standard error, and the `kind` of what is known of it, in words."""

    @property
    def value(self) -> float: ...
    @property
    def spread(self) -> float: ...
    @property
    def kind(self) -> str: ...


def ends_of(known: Known) -> tuple[float, float]:
    """Between which figures it lies nine times in ten."""
    reach = SPREADS_EACH_WAY * known.spread
    return known.value - reach, known.value + reach


def known_in_words(multipliers: Mapping[str, Known]) -> str:
    """What is known of each yarn, the only words for it in the house, from multipliers by letter.

    "W between 3.72 and 3.98 times the knitted width (measured); A, B between 3.2 and 4.5 times (an
    estimate)". Letters are left out where the same kind of figure holds for all.
    """
    by_kind: dict[str, list[str]] = {}
    for letter, multiplier in sorted(multipliers.items()):
        by_kind.setdefault(multiplier.kind, []).append(letter)
    told: list[str] = []
    for kind, letters in sorted(by_kind.items(), key=lambda each: each[0] != MEASURED):
        who = f"{', '.join(letters)} " if len(by_kind) > 1 else ""
        width = "" if told else " the knitted width"
        times = _range_of([multipliers[letter] for letter in letters])
        told.append(f"{who}{times} times{width} ({kind})")
    return "; ".join(told)


def _range_of(multipliers: Sequence[Known]) -> str:
    """Between which figures all of these lie; a figure that was chosen is told as it is."""
    first = multipliers[0]
    if first.kind not in (MEASURED, NOT_MEASURED):
        return f"{first.value:.2f}"
    lows, highs = zip(*map(ends_of, multipliers), strict=True)
    return in_range(min(lows), max(highs))


def whole_percent(chance: float, *, sure: bool = False) -> int:
    """A chance in whole percent, never more than it is.

    It is 99 at the most, unless it is `sure` that nothing is left to chance.
    """
    percent = math.floor(100 * chance + ROUNDING_ERROR)
    return percent if sure else min(percent, 99)


def counted(number: int, noun: str) -> str:
    """A count with its noun: "1 stitch", "3 stitches", "2 strands"."""
    if number == 1:
        ending = ""
    elif noun.endswith(("ch", "sh", "s")):
        ending = "es"
    else:
        ending = "s"
    return f"{number:,} {noun}{ending}"


def stretches(numbers: Sequence[int]) -> list[str]:
    """Rising numbers in words, those that follow one another together: "3–5", "9"."""
    ends: list[list[int]] = []
    for number in numbers:
        if ends and ends[-1][1] == number - 1:
            ends[-1][1] = number
        else:
            ends.append([number, number])
    return [str(first) if first == last else f"{first}–{last}" for first, last in ends]


def listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them: "A", "A and B", "A, B and C"."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def nth(number: int) -> str:
    """A place in an order, in figures: "1st", "2nd", "11th"."""
    is_teen = number % 100 in (11, 12, 13)
    ending = "th" if is_teen else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def in_words(name: str) -> str:
    """The name of a column as it is said: "length (cm)"."""
    if name.endswith("_cm"):
        name = name.removesuffix("_cm") + " (cm)"
    return name.replace("_", " ")
