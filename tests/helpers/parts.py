"""The parts of strands as a table, to be added up in tests by other roads than the planner's."""

from dataclasses import asdict

import pandas as pd

from planner.supplies import measure_parts


def parts_table(strands, multipliers, allow):
    """One row a part: strand, part and yarn, and its lengths in cm."""
    parts = measure_parts(strands, multipliers, allow)
    lines = [{**asdict(part), "wound_cm": part.wound_cm} for part in parts]
    table = pd.DataFrame(lines).drop(columns=["strand", "runs"])
    return table.rename(columns={"label": "strand", "name": "part"})
