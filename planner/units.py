"""Centimetres inside; centimetres and metres or inches and yards shown."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from fractions import Fraction

import pandas as pd

from planner.errors import PlanError

CM_PER_INCH = Fraction(254, 100)  # exact by definition (international inch, 1959)
CM_PER = {
    "cm": Fraction(1),
    "mm": Fraction(1, 10),
    "m": Fraction(100),
    "in": CM_PER_INCH,
    "yd": 36 * CM_PER_INCH,
}
LONG_UNIT = {"cm": "m", "in": "yd"}
ROUND_UP_TO = {"cm": Fraction(5), "in": CM_PER["yd"] / 4}  # 5 cm, or a quarter of a yard


def exact(number: float | str | Fraction, what: str) -> Fraction:
    """The number as it was typed, as an exact fraction; `what` names it in the error."""
    if isinstance(number, Fraction):
        return number
    text = str(number).strip()
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        hint = (
            f' Write a decimal point: "{text.replace(",", ".")}".'
            if re.fullmatch(r"-?\d+,\d+", text)
            else ""
        )
        raise PlanError(f'{what} is "{text}", which is not a number.{hint}') from None


def check_number(
    value, what: str, *, least: float = 0.0, above: float | None = None, most: float = 1e9
):
    """Refuse what is not a number of at least `least` (or more than `above`) and at most `most`."""
    bound = f"more than {above:g}" if above is not None else f"{least:g} or more"
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float | Fraction)
        or not math.isfinite(value)
    ):
        raise PlanError(f"{what} is {value!r}; a number, {bound}, was expected.")
    if value > most or value < least or (above is not None and value <= above):
        raise PlanError(
            f"{what} is {value:g}; it must be {bound}{'' if value <= most else f', and at most {most:g}'}."
        )


def check_numbers(
    settings,
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
    for field in fields(settings):
        if isinstance(field.default, bool) or not isinstance(field.default, int | float):
            continue
        value = getattr(settings, field.name)
        name = what.format(in_words(field.name))
        check_number(value, name, least=(least or {}).get(field.name, 0), most=most)
        if field.name in whole and value != int(value):
            raise PlanError(f"{name} is {value:g}; a whole number was expected.")


def to_cm(length: float | str | Fraction, unit: str, what: str = "The length") -> Fraction:
    """A length in cm, exactly."""
    if unit not in CM_PER:
        raise PlanError(f'{what} has the unit "{unit}"; use one of {", ".join(CM_PER)}.')
    return exact(length, what) * CM_PER[unit]


def parse_length(text: str, what: str = "The length") -> Fraction:
    """A length such as "2.5 cm" or "1 in", in cm."""
    match = re.fullmatch(r"\s*([-+]?[\d.,/]+)\s*([a-z]+)\s*", text)
    if not match:
        raise PlanError(
            f'{what} is "{text}"; write a number and a unit, such as "2.5 cm" or "1 in".'
        )
    return to_cm(match[1], match[2], what)


def rounded_up(length_cm: float, units: str) -> float:
    """The length in cm, rounded up to what one measures yarn by: 5 cm, or a quarter of a yard."""
    step = float(ROUND_UP_TO[units])
    return math.ceil(length_cm / step - 1e-9) * step


def show(length_cm: float, units: str) -> str:
    """A yarn length in words: "0.95 m", "1.25 yd"."""
    return f"{length_cm / float(CM_PER[LONG_UNIT[units]]):.2f} {LONG_UNIT[units]}"


def show_short(length_cm: float, units: str) -> str:
    """A short length in words: "15 cm", "5.9 in"."""
    if units == "cm":
        return f"{length_cm:g} cm"
    return f"{length_cm / float(CM_PER_INCH):.1f} in"


def shown(table: pd.DataFrame, units: str, digits: int = 2) -> pd.DataFrame:
    """The same table with every `…_cm` column turned into metres (`…_m`) or yards (`…_yd`)."""
    unit = LONG_UNIT[units]
    lengths = [name for name in table if name.endswith("_cm")]
    scaled = {name: (table[name] / float(CM_PER[unit])).round(digits) for name in lengths}
    return table.assign(**scaled).rename(columns={name: f"{name[:-3]}_{unit}" for name in lengths})


def counted(number: int, noun: str) -> str:
    """A count with its noun: "1 stitch", "3 stitches", "2 strands"."""
    plural = "" if number == 1 else "es" if noun.endswith(("ch", "sh", "s")) else "s"
    return f"{number:,} {noun}{plural}"


def in_words(name: str) -> str:
    """The name of a column as it is said: "length (cm)"."""
    return f"{name[:-3]} (cm)".replace("_", " ") if name.endswith("_cm") else name.replace("_", " ")
