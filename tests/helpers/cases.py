"""Shared cases: charts with the runs, strands, ends, carried stitches and middle starts to expect.

They stand in cases/strands.json, a list of them with their constructions and carry limits. The
expected values came with the charts, from outside this project (grade: computed).
"""

import json
from pathlib import Path

from planner import Construction, Gauge

LISTED = json.loads((Path(__file__).parents[1] / "cases" / "strands.json").read_text("utf-8"))
CASES = {case["name"]: case for case in LISTED}
GAUGES = {1.0: Gauge(20, 20), 0.75: Gauge(15, 20)}  # by aspect


def construction(rounds=False, left_handed=False, first_rs=True, garter=False) -> Construction:
    """A construction from the words of a case."""
    return Construction(
        worked="rounds" if rounds else "flat",
        first_row="RS" if first_rs else "WS",
        hand="left" if left_handed else "right",
        fabric="garter" if garter else "stockinette",
    )
