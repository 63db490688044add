"""The winding list: what to wind, how long, in the order it is needed; alike pieces stand on one line."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import groupby, pairwise

import numpy as np
import pandas as pd

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, PARTS, Allowances, Habits, Yarn
from planner.strands import Strands
from planner.supplies.choose import capacity_cm
from planner.units import CM_PER, LONG_UNIT, rounded_up, show

HOW_TO = {
    LOOSE: "Cut it and let it hang free behind the work; to work, draw it out from among the others.",
    BUTTERFLY: (
        "Leave the working end between thumb and palm. Wrap the rest in a figure of eight round thumb and little finger, loosely, "
        "never tight on a finger. Slip it off and tie the last end twice round the waist. The working end feeds from the middle."
    ),
    BOBBIN: (
        "Wind on from the far end, without stretching the yarn, and fix the working end in the slot. Keep the drop from fabric to "
        "bobbin short, a hand's length, and wind up again after the row. Keep bobbins and cords from small children and pets."
    ),
    BALL: "Nothing to wind: lay the ball on the table in the order the yarns are worked.",
}


def hanging_pieces(
    strands: Strands,
    parts: pd.DataFrame,
    supplies: pd.DataFrame,
    yarns: Mapping[str, Yarn],
    habits: Habits,
    allow: Allowances,
) -> pd.DataFrame:
    """One row a piece as it hangs: each part of a strand and each refill, which adds two tails; lengths in cm.

    `begins` and `done` are worked rows from 1, done without the piece in it: a piece of rows 3 to 7 begins at 3 and is
    done at 8. A refill begins half-way through the row in which the piece before it runs out. Both halves of a strand
    begun from its middle hang from its first row on.
    """
    out: list[dict] = []
    for part, held in zip(parts.itertuples(), supplies.itertuples(), strict=True):
        label = part.strand if part.part == PARTS[0] else f"{part.strand} {part.part}"
        due = [int(row) for row in held.refill_rows.split(", ") if row]
        capacity = capacity_cm(habits, held.supply, yarns[part.yarn], allow.label_error)
        last = (
            part.wound_cm + 2 * allow.tail_cm * len(due) - capacity * len(due)
            if due
            else part.wound_cm
        )
        row = int(strands.runs.row[part.first_run])
        base = {
            "label": label,
            "strand": part.strand,
            "yarn": part.yarn,
            "supply": held.supply,
            "length_cm": last,
        }
        base |= {
            "half_cm": math.nan,
            "rule_cm": part.rule_cm,
            "row": row + 1,
            "side": strands.how.side(row),
        }
        base |= {
            "stitch": int(strands.stitch_number(part.first_run)),
            "order": part.first_run,
            "refill": 0,
        }
        begins = int(strands.runs.row[strands.first_run[part.strand_index]]) + 1
        times = [begins, *(late + 0.5 for late in due), held.last_row + 1]
        for i, (start, done) in enumerate(pairwise(times)):
            piece = base | {
                "begins": start,
                "done": done,
                "length_cm": capacity if i < len(due) else last,
            }
            if i:
                late = due[i - 1]
                # A refill comes after all that starts in its row.
                order = np.searchsorted(strands.runs.row, late, "left") - 0.5
                piece |= {
                    "label": f"{label} refill {i}",
                    "refill": i,
                    "rule_cm": math.nan,
                    "row": late,
                    "order": order,
                }
                piece |= {"side": strands.how.side(late - 1), "stitch": pd.NA}
            out.append(piece)
    return pd.DataFrame(out)


def winding_pieces(
    strands: Strands,
    parts: pd.DataFrame,
    supplies: pd.DataFrame,
    yarns: Mapping[str, Yarn],
    habits: Habits,
    allow: Allowances,
) -> pd.DataFrame:
    """One row a piece to wind (or ball to lay out), lengths in cm: each strand, and each refill, which adds two tails.

    The halves of a strand begun from its middle are one length, `half_cm` from one end of it to that middle; only
    if one half stays on the ball is the other a piece of its own, wound off without cutting.
    """
    out: list[dict] = []
    hanging = hanging_pieces(strands, parts, supplies, yarns, habits, allow).to_dict("records")
    for strand, pieces in groupby(hanging, key=lambda piece: piece["strand"]):
        bases = []
        for piece in pieces:
            (out if piece["refill"] else bases).append(piece)
        if len(bases) == 2 and not any(base["supply"] == BALL for base in bases):
            one, other = bases
            supply = " and ".join(dict.fromkeys((one["supply"], other["supply"])))
            total = {name: one[name] + other[name] for name in ("length_cm", "rule_cm")}
            bases = [one | total | {"label": strand, "supply": supply, "half_cm": one["length_cm"]}]
        out.extend(bases)
    pieces = pd.DataFrame(out).sort_values("order", kind="stable", ignore_index=True)
    return pieces.drop(columns=["order", "strand", "refill", "begins", "done"]).astype(
        {"stitch": "Int64"}
    )


def winding_list(
    pieces: pd.DataFrame, yarns: Mapping[str, Yarn], habits: Habits, units: str
) -> pd.DataFrame:
    """One row a line, in the order of first need: alike pieces together, lengths rounded up to 5 cm or ¼ yd.

    `line` is what to read: "8 × B, 0.95 m: B1, B2 …". `wraps` is how often the yarn goes round something whose
    once-round is `habits.wrap_cm`. A length begun from its middle says how far from one end that lies. Row, side
    and stitch are where the first piece of the line is needed.
    """
    unit, unit_cm = LONG_UNIT[units], float(CM_PER[LONG_UNIT[units]])
    rounded = pieces.length_cm.map(lambda length: rounded_up(length, units))
    half = pieces.half_cm.map(lambda length: rounded_up(length, units), na_action="ignore").fillna(
        0
    )
    alone = pd.Series(pieces.index, index=pieces.index).where(
        pieces.supply == BALL, -1
    )  # each ball is a line of its own
    out = []
    for (letter, supply, length, middle, _), group in pieces.groupby(
        [pieces.yarn, pieces.supply, rounded, half, alone], sort=False
    ):
        first, yarn, labels = group.iloc[0], yarns[letter], ", ".join(group.label)
        weight, from_ball = yarn.grams(length), supply == BALL
        line = (
            f"{labels}: {BALL}, {show(length, units)}"
            if from_ball
            else f"{len(group)} × {letter}, {show(length, units)}: {labels}"
        )
        out.append(
            {
                "line": line + (f" (begin {show(middle, units)} from one end)" if middle else ""),
                "pieces": len(group),
                "labels": labels,
                "yarn": letter,
                "name": yarn.name,
                "supply": supply,
                f"length_{unit}": round(length / unit_cm, 2),
                "weight_g": math.nan if weight is None else round(weight, 1),
                "wraps": pd.NA if from_ball else math.ceil(length / habits.wrap_cm - 1e-9),
                f"rule_of_three_{unit}": round(group.rule_cm.max() / unit_cm, 2),
                "first_row": first.row,
                "first_side": first.side,
                "first_stitch": first.stitch,
            }
        )
    return pd.DataFrame(out).astype({"wraps": "Int64", "first_stitch": "Int64"})
