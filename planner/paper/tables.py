"""All tables of a plan, for other programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.finishing import ends_in_words
from planner.guards import guarded
from planner.plan import Plan

if TYPE_CHECKING:
    import pandas as pd

TABLES = (
    *("strands", "supplies", "ways", "winding_list", "shopping_list"),
    *("rows", "ends", "ends_by_area", "areas", "findings", "embroidery"),
)


def tables_of(plan: Plan) -> dict[str, pd.DataFrame]:
    """Each table of the plan, by its name."""
    tables = {name: getattr(plan, name) for name in TABLES}
    return {**tables, "ends": ends_in_words(plan)}


def csv_of(table: pd.DataFrame) -> bytes:
    """A table as CSV in UTF-8; no text of it is a formula."""
    # Numbers stay as they are: -5 is one.
    safe = table.map(lambda cell: guarded(cell) if isinstance(cell, str) else cell)
    return safe.to_csv(index=False, lineterminator="\n").encode()
