"""Any answer of the planner as text that is the same on every machine."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from numbers import Integral, Real

import numpy as np
import pandas as pd

from tests.net.names import chart_lines, house

Titled = Iterator[tuple[str, object]]


def number_text(value: Real) -> str:
    """A number with six digits that count; what is nearly nothing is nothing."""
    if abs(value) < 1e-9:
        return "0"
    return f"{float(value):.6g}"


def plain_text(value) -> str:
    """One value that holds no others; nothing where it is missing."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if value is None or value is pd.NA or value != value:
        return ""
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, Real):
        return number_text(value)
    return str(value)


def table_text(table: pd.DataFrame) -> str:
    """A table as lines, its columns in their order, the text of each cell in bars."""
    lines = [" | ".join(map(str, table.columns))]
    for row in table.itertuples(index=False, name=None):
        lines.append(" | ".join(map(as_text, row)))
    return "\n".join(lines)


def fields_text(thing) -> str:
    """A dataclass as its fields, a line each."""
    values = [(field.name, getattr(thing, field.name)) for field in fields(thing)]
    return "\n".join(f"{name}: {as_text(value)}" for name, value in values)


def as_text(value) -> str:
    """A table, record, chart, array, mapping, sequence or plain value as text."""
    if isinstance(value, str | Real):
        return plain_text(value)
    if isinstance(value, pd.DataFrame):
        return table_text(value)
    if isinstance(value, pd.Series):
        return table_text(value.reset_index())
    if isinstance(value, np.ndarray) and value.ndim > 1:
        return "\n".join(as_text(part) for part in value)
    if isinstance(value, np.ndarray):
        return " ".join(map(as_text, value.tolist()))
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, house.Chart):
        return "\n".join(chart_lines(value))
    if is_dataclass(value):
        return fields_text(value)
    if isinstance(value, Mapping):
        return "\n".join(f"{as_text(key)} = {as_text(entry)}" for key, entry in value.items())
    if isinstance(value, set | frozenset):
        return as_text(sorted(value))
    if isinstance(value, list) and value and not isinstance(value[0], Real):
        return "\n".join(map(as_text, value))
    if isinstance(value, Iterable) and not isinstance(value, str):
        return ", ".join(map(as_text, value))
    return plain_text(value)


def answer(call: Callable, *given, **named):
    """What a call gives, or what it says when it refuses."""
    try:
        return call(*given, **named)
    except house.PlanError as error:
        return f"refused: {error}"


def section_text(titled: Titled) -> str:
    """The text of a section: each of its answers under its title, whole where it has none."""
    parts = []
    for title, value in titled:
        text = as_text(value)
        parts.append(f"## {title}\n{text}\n" if title else text)
    return "".join(parts)
