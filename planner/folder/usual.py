"""Usual figures: where piece.toml does not say a length, a round one in the units of the piece.

The fields of the settings types stand at what is round in centimetres. Tails of 15 cm would be
5.9 in, so a piece in inches and yards has figures of its own. They go with the units; a figure that
was chosen by hand stays what it was.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from planner.piece import Gauge, Project
from planner.units import LENGTH_OF_A_GAUGE

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

# In cm: tails of 6 in, a swatch of 5 in, wraps of 8 in, pieces up to 3, 12 and 30 yd.
ROUND_IN_INCHES = {
    "tail_cm": 15.24,
    "swatch_cm": 12.7,
    "wrap_cm": 20.32,
    "loose_up_to_cm": 274.32,
    "butterfly_up_to_cm": 1097.28,
    "bobbin_up_to_cm": 2743.2,
}


def usual_lengths(kind: type[DataclassInstance], units: str) -> dict[str, float]:
    """The usual lengths of a settings type, cm, by name; none where it has no such lengths."""
    names = [field.name for field in fields(kind) if field.name in ROUND_IN_INCHES]
    # The default of a field stands on its class.
    return {name: ROUND_IN_INCHES[name] if units == "in" else getattr(kind, name) for name in names}


def usual_gauge(units: str) -> Gauge:
    """The gauge of a piece before any is counted: over 10 cm, or over 4 in."""
    return Gauge(over=LENGTH_OF_A_GAUGE[units], unit=units)


def with_units(project: Project, units: str) -> dict[str, Any]:
    """What to change in a project so that it is in these units.

    A length that is the usual one becomes the usual one of the new units; any other stays.
    """
    changes: dict[str, Any] = {"units": units}
    for name in ("allow", "habits"):
        settings = getattr(project, name)
        before = usual_lengths(type(settings), project.units)
        after = usual_lengths(type(settings), units)
        usual = [length for length, cm in before.items() if getattr(settings, length) == cm]
        changes[name] = replace(settings, **{length: after[length] for length in usual})
    # A gauge that was counted stays as it was made.
    if project.gauge == usual_gauge(project.units):
        changes["gauge"] = usual_gauge(units)
    return changes
