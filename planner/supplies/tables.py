"""Tables from lines: each line a dict by the names of the columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd


def table_of(
    lines: Sequence[Mapping[str, object]], names: Sequence[str], types: Mapping[str, str]
) -> pd.DataFrame:
    """A table with these columns, one row a line.

    `types` are those of columns that may be empty somewhere: where a plain number would turn a
    count into a fraction, "Int64" and "Float64" know what is missing.
    """
    # Column by column: to change the types of a finished table copies it, and takes twice as long.
    columns: dict[str, object] = {}
    for name in names:
        values = [line[name] for line in lines]
        columns[name] = pd.array(values, dtype=types[name]) if name in types else values
    return pd.DataFrame(columns)
