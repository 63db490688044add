"""Bobbins over time: how many to own, which carries which piece when, and what else saves winding and yarn.

Pieces that hang in the same row need a bobbin each; handed out in the order of need, the bobbins needed are exactly the
most that hang at once. A stop to wind is put off until a piece is wanted that is not wound, and then every empty
bobbin is wound: so many bobbins need no fewer stops.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.errors import PlanError
from planner.piece import BALL, BOBBIN, PARTS, SUPPLIES
from planner.plan import Plan
from planner.supplies import capacity_cm, hanging_pieces, pieces_needed
from planner.units import counted, shown

SURE = 0.75  # judgement: a left-over is counted on if it is long enough three times in four


def pieces_of(plan: Plan) -> pd.DataFrame:
    """Every piece of a plan as it hangs, in the order of need, lengths in cm (see `hanging_pieces`)."""
    project = plan.project
    pieces = hanging_pieces(
        plan.traced, plan.parts, plan.supplies, project.all_yarns, project.habits, project.allow
    )
    return pieces.sort_values(["begins", "order"], kind="stable", ignore_index=True)


def most_at_once(pieces: pd.DataFrame) -> int:
    """The most of these pieces that hang at one time."""
    begun = pieces.sort_values("begins", kind="stable")
    begins, done = begun.begins.to_numpy(), begun.done.to_numpy()
    return max((1 + int((done[:i] > now).sum()) for i, now in enumerate(begins)), default=0)


def hand_out(pieces: pd.DataFrame, owned: int) -> pd.DataFrame:
    """The pieces, in the order of need, with the `bobbin` (from 1) that carries each and when it is `wound`: 0 before the
    start, else the row (and a half: in the row) before which one stops to wind.

    A bobbin goes on with its own strand where it can, else with its own yarn.
    """
    pieces = pieces.sort_values("begins", kind="stable", ignore_index=True)
    if owned < most_at_once(pieces):
        raise PlanError(
            f"{counted(owned, 'bobbin')} will not do: {most_at_once(pieces)} hang at once. Own at least so many."
        )
    done, carries, out, stop = [0.0] * owned, [("", "")] * owned, [], 0
    for piece in pieces.itertuples():
        if not any(d <= stop for d in done):
            stop = piece.begins
        empty = [b for b in range(owned) if done[b] <= stop]
        b = min(
            empty, key=lambda b: (carries[b][1] != piece.strand, carries[b][0] != piece.yarn, b)
        )
        done[b], carries[b] = piece.done, (piece.yarn, piece.strand)
        out.append((b + 1, stop))
    return pieces.assign(bobbin=[b for b, _ in out], wound=[stop for _, stop in out])


def last_row(done: pd.Series) -> pd.Series:
    """The last row in which pieces hang that are done with before these rows."""
    return np.ceil(done).astype(int) - 1


def _when(row: float) -> str:
    return (
        "before you start"
        if not row
        else f"before row {row:g}"
        if row == int(row)
        else f"in row {int(row)}"
    )


def bobbin_table(
    plan: Plan, *, kinds: tuple[str, ...] = (BOBBIN,), owned: int | None = None
) -> pd.DataFrame:
    """One row a piece, by bobbin: what each carries, in which rows, when it is wound; as few bobbins as can be unless `owned`
    says how many there are. With `kinds` butterflies may be held on bobbins too."""
    pieces = pieces_of(plan)
    pieces = pieces[pieces.supply.isin(kinds)]
    held = hand_out(pieces, most_at_once(pieces) if owned is None else owned)
    table = held.sort_values(["bobbin", "begins"], kind="stable", ignore_index=True).rename(
        columns={"label": "piece"}
    )
    table = table.assign(
        from_row=table.begins.astype(int), to_row=last_row(table.done), wind=table.wound.map(_when)
    )
    return shown(
        table[["bobbin", "piece", "yarn", "length_cm", "from_row", "to_row", "wind"]],
        plan.project.units,
    )


def winding_stops(plan: Plan, *, kinds: tuple[str, ...] = (BOBBIN,)) -> pd.DataFrame:
    """One row a number of bobbins, from the fewest that will do to one for each piece: stops to wind, and when they come."""
    pieces = pieces_of(plan)
    pieces = pieces[pieces.supply.isin(kinds)]
    out = []
    for owned in range(max(1, most_at_once(pieces)), len(pieces) + 1):
        stops = [row for row in dict.fromkeys(hand_out(pieces, owned).wound) if row]
        out.append((owned, len(stops), ", ".join(map(_when, stops)) or "all before you start"))
    return pd.DataFrame(out, columns=["bobbins", "stops_to_wind", "when"])


def both_ends(plan: Plan) -> pd.DataFrame:
    """One row a strand fed from a ball that feeds two at a time, one from the outside and one from the inside end, and what
    that saves. The second end also takes strands that would be wound on bobbins, longest first, while the ball lasts."""
    project, out = plan.project, []
    every = pieces_of(plan)
    refilled = every.strand.isin(
        every.strand[every.refill > 0]
    )  # a ball that runs out is not one to share
    for letter, pieces in every[~refilled].groupby("yarn", sort=False):
        room = capacity_cm(
            project.habits, BALL, project.all_yarns[letter], project.allow.label_error
        )
        wound = pieces[pieces.supply == BOBBIN].sort_values(
            "length_cm", ascending=False, kind="stable"
        )
        balls: list[
            tuple[list, list]
        ] = []  # what hangs on the outside end of each, and on the inside end
        for piece in pd.concat((pieces[pieces.supply == BALL], wound)).itertuples():
            places = [
                end
                for ball in balls
                if sum(p.length_cm for end in ball for p in end) + piece.length_cm <= room
                for end in ball
                if all(p.done <= piece.begins or piece.done <= p.begins for p in end)
            ]
            if not places and piece.supply == BALL:
                balls.append(([], []))
                places = [balls[-1][0]]
            if places:
                places[0].append(piece)
        for number, ball in enumerate(balls, start=1):
            for end, strands in zip(("outside", "inside"), ball, strict=True):
                saves = {
                    BALL: "a ball on the table" if end == "inside" else "",
                    BOBBIN: "winding a bobbin",
                }
                out += [
                    (
                        letter,
                        number,
                        end,
                        p.label,
                        p.length_cm,
                        p.begins,
                        p.done - 1,
                        saves[p.supply],
                    )
                    for p in sorted(strands, key=lambda p: p.begins)
                    if ball[1]
                ]
    columns = ["yarn", "ball", "end", "strand", "length_cm", "from_row", "to_row", "saves"]
    return shown(pd.DataFrame(out, columns=columns), project.units)


def splices(plan: Plan) -> pd.DataFrame:
    """One row a yarn and way of holding all its strands that takes joins: the ends they cost, and those that splicing saves.

    A yarn that felts is spliced and leaves no ends; any other join leaves two. Each join takes two tails of yarn.
    """
    project, allow, out = plan.project, plan.project.allow, []
    for letter, some in plan.parts.groupby("yarn", sort=False):
        yarn = project.all_yarns[letter]
        joins = {"as planned": int(plan.supplies.refills[plan.supplies.yarn == letter].sum())}
        for kind in SUPPLIES:
            capacity = capacity_cm(project.habits, kind, yarn, allow.label_error)
            joins[kind] = sum(
                pieces_needed(length, capacity, allow.tail_cm) - 1 for length in some.wound_cm
            )
        out += [
            (letter, yarn.feltable, held, n)
            for held, n in joins.items()
            if n or held == "as planned"
        ]
    table = pd.DataFrame(out, columns=["yarn", "felts", "held", "joins"])
    ends = 2 * table.joins
    table = table.assign(
        ends_to_sew_in=ends.mask(table.felts, 0), ends_saved_by_splicing=ends.where(table.felts, 0)
    )
    table = table.assign(
        more_yarn_cm=ends * allow.tail_cm, felts=table.felts.map({True: "yes", False: "no"})
    )
    return shown(table, project.units)


def reuse_leftovers(plan: Plan, sure: float = SURE) -> pd.DataFrame:
    """One row a strand that need not be wound, because what is left over of an earlier one of its yarn will do.

    What is left over is what was wound less what the stitches take, tails apart: it is not known before, so it is counted at
    its lower end, which it reaches with the chance `sure`; `chance_percent` is the chance that it is long enough for all it is
    given to, margins included. In the order of need each strand takes the shortest left-over that will do.
    """
    parts, supplies, out = plan.parts, plan.supplies, []
    parts = parts.assign(
        supply=supplies.supply, from_row=supplies.first_row, to_row=supplies.last_row
    )
    parts["left"] = parts.worked_cm + parts.margin_cm
    for letter, some in parts.groupby("yarn", sort=False):
        multiplier = plan.multipliers[letter]
        wound = some[some.supply != BALL]
        left = (wound.left - multiplier.length_at(wound.width_cm, sure)).to_dict()
        given, done = dict.fromkeys(left, 0.0), wound.to_row.to_dict()
        fed = set(some.strand[some.supply == BALL])
        for strand, mine in wound.groupby("strand", sort=False):
            needs, begins = mine.wound_cm.sum(), mine.from_row.min()
            fits = [i for i in left if done[i] < begins and left[i] - given[i] >= needs]
            if strand in fed or not fits:
                continue
            best = min(fits, key=lambda i: (left[i] - given[i], i))
            given[best] += needs
            source = wound.loc[best]
            name = source.strand + ("" if source.part == PARTS[0] else f" {source.part}")
            chance = round(
                100 - 100 * multiplier.chance_over(source.width_cm, source.left - given[best])[0]
            )
            out.append(
                (
                    letter,
                    strand,
                    begins,
                    needs,
                    name,
                    source.to_row,
                    source.margin_cm,
                    left[best],
                    chance,
                )
            )
    columns = ["yarn", "strand", "from_row", "needs_cm", "left_over_from"]
    columns += ["done_in_row", "likely_left_cm", "at_least_cm", "chance_percent"]
    return shown(pd.DataFrame(out, columns=columns), plan.project.units)
