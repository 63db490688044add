"""Bobbins over time, both ends of a ball, splices and left-overs.

Against graph colouring, a plain search and a simulation.
"""

from dataclasses import fields, replace
from itertools import combinations, pairwise

import networkx as nx
import numpy as np
import pytest

from planner import CarryLimits, PlanError, Yarn, make_plan
from planner.buying.bobbins import (
    bobbin_table,
    both_ends,
    hand_out,
    most_at_once,
    pieces_of,
    reuse_leftovers,
    splices,
    winding_stops,
)
from planner.piece.settings import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    Allowances,
    Habits,
    MultiplierChoice,
)
from planner.supplies import Piece
from tests.helpers.parts import measured_cm
from tests.helpers.plans import demo, every_random_plan, plan_of, random_plan

WOUND = (LOOSE, BUTTERFLY, BOBBIN)


def as_pieces(spans):
    """Pieces of these (begins, done), each its own strand."""
    nothing = dict.fromkeys(field.name for field in fields(Piece))
    return [
        Piece(**nothing | {"strand": str(i), "yarn": "A", "begins": begins, "done": done})
        for i, (begins, done) in enumerate(spans)
    ]


def colours(pieces):
    """Colours that NetworkX needs for the graph of pieces that hang at the same time.

    Interval graphs are perfect: the largest clique is that number, and colouring in the order of
    need reaches it.
    """
    graph = nx.Graph()
    graph.add_nodes_from(range(len(pieces)))
    spans = [(piece.begins, piece.done) for piece in pieces]
    graph.add_edges_from(
        (i, j)
        for i, j in combinations(range(len(spans)), 2)
        if spans[i][0] < spans[j][1] and spans[j][0] < spans[i][1]
    )
    in_order = sorted(graph, key=lambda i: spans[i][0])
    coloured = nx.greedy_color(graph, strategy=lambda g, c: in_order)
    assert nx.is_chordal(graph)
    assert len(set(coloured.values())) == max(len(clique) for clique in nx.find_cliques(graph))
    return len(set(coloured.values()))


@every_random_plan
@pytest.mark.parametrize("kinds", [(BOBBIN,), WOUND])
def test_bobbins_are_the_peak(number, kinds):
    """As many as NetworkX colours, and no bobbin carries two pieces at one time."""
    pieces = [piece for piece in pieces_of(random_plan(number)) if piece.supply in kinds]
    if not pieces:
        pytest.skip("nothing is held so")
    held = hand_out(pieces, most_at_once(pieces))
    assert len({on.bobbin for on in held}) == most_at_once(pieces) == colours(pieces)
    for bobbin in {on.bobbin for on in held}:
        on_it = [on for on in held if on.bobbin == bobbin]
        for before, after in pairwise(on_it):
            assert before.piece.done <= after.piece.begins
            assert before.piece.done <= after.stop
    assert all(on.stop <= on.piece.begins for on in held)
    with pytest.raises(PlanError, match="hang at once"):
        hand_out(pieces, most_at_once(pieces) - 1)


def fewest_stops(spans, owned):
    """By trying every choice of rows to stop in."""
    rows = sorted({a for a, _ in spans})
    tries = (stops for n in range(len(rows) + 1) for stops in combinations(rows, n))
    return len(next(stops for stops in tries if works(spans, owned, (0, *stops))))


def works(spans, owned, stops):
    """Whether, if every empty bobbin is wound at these stops in the order of need, no piece comes
    too late."""
    done, waiting = [0] * owned, sorted(spans)
    for stop in stops:
        for b in range(owned):
            if done[b] <= stop and waiting and waiting[0][0] >= stop:
                done[b] = waiting.pop(0)[1]
    return not waiting


@pytest.mark.parametrize("number", range(30))
def test_no_way_takes_fewer_stops(number):
    rng = np.random.default_rng(number)
    spans = [(int(a), int(a + rng.integers(1, 6))) for a in rng.integers(1, 14, size=7)]
    pieces = as_pieces(spans)
    for owned in range(most_at_once(pieces), len(spans) + 1):
        stops = {on.stop for on in hand_out(pieces, owned) if on.stop}
        assert len(stops) == fewest_stops(spans, owned)


def test_bobbins_of_the_demo():
    """By eye: N3 rows 28–89, what is measured off of N1 rows 30–73, N4 30–59, N6 72–93.

    N1 cannot be wound before row 30, so N4 is wound then too; N6 goes on the bobbin that held its
    yarn last and is empty.
    """
    table = bobbin_table(demo())[["bobbin", "piece", "from_row", "to_row", "wind"]]
    assert table.to_numpy().tolist() == [
        [1, "N3", 28, 89, "before you start"],
        [2, "N1 from row 30", 30, 73, "before row 30"],
        [3, "N4", 30, 59, "before row 30"],
        [3, "N6", 72, 93, "before row 72"],
    ]
    stops = winding_stops(demo())
    assert stops.to_dict("list") == {
        "bobbins": [3, 4],
        "stops_to_wind": [2, 1],
        "when": ["before row 30, before row 72", "before row 30"],
    }
    assert len(winding_stops(demo(), kinds=("hat",))) == 0


def test_a_refill_goes_on_its_own_bobbin():
    plan = plan_of(
        ["A" * 40 + "B" * 40] * 22,
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train"),
    )
    table = bobbin_table(plan)
    assert table.bobbin.nunique() == 2
    yarns_by_bobbin = table.groupby("bobbin").yarn.unique()
    assert sorted(map(list, yarns_by_bobbin)) == [["A"], ["B"]]
    of_a = table[table.yarn == "A"]
    refills = [f"A1 refill {number}" for number in range(1, 5)]
    stops = [f"in row {row}" for row in (5, 10, 14, 19)]
    assert of_a.piece.tolist() == ["A1", *refills]
    assert of_a.wind.tolist() == ["before you start", *stops]
    assert of_a.length_m.iloc[:4].tolist() == [4.0] * 4


# Both ends of a ball


@every_random_plan
def test_both_ends_by_a_plain_count(number):
    """On an end strands follow each other, a ball is no longer than it is, and no strand hangs
    twice."""
    plan = random_plan(number)
    table = both_ends(plan)
    unit = 100 if plan.project.units == "cm" else 91.44
    assert not table.strand.duplicated().any()
    for (yarn, number), ball in table.groupby(["yarn", "ball"]):
        assert set(ball.end) == {"outside", "inside"}
        # Each length is rounded to a hundredth.
        rounding = 0.005 * unit * len(ball)
        assert ball.iloc[:, 4].sum() * unit <= plan.balls[yarn][number - 1] + rounding
        for _, end in ball.groupby("end"):
            assert (end.to_row[:-1].to_numpy() < end.from_row[1:].to_numpy()).all()


def test_both_ends_halve_the_balls():
    """Three long stripes of one yarn all along: three balls, or two with both ends."""
    rows = ["A" * 40 + "B" * 3 + "A" * 40 + "B" * 3 + "A" * 40] * 60
    plan = plan_of(
        rows,
        {"A": Yarn("A", metres_per_ball=500, balls_in_hand=3)},
        by_yarn={"B": CarryLimits(across=0)},
    )
    table = both_ends(plan)
    assert (plan.supplies.supply == BALL).sum() == 3
    assert table[["ball", "end", "saves"]].to_numpy().tolist() == [
        [1, "outside", ""],
        [1, "inside", "a ball on the table"],
    ]


def test_both_ends_of_the_demo():
    """All of N from one ball, 70 m of the 90 that are sure: N1, measured off before row 30, then N4
    and N7 from the outside; N3 and N8 from the inside. N6 hangs while N3 and N4 or N7 do."""
    table = both_ends(demo())
    assert table[["ball", "strand", "end"]].to_numpy().tolist() == [
        [1, "N1", "outside"],
        [1, "N4", "outside"],
        [1, "N7", "outside"],
        [1, "N3", "inside"],
        [1, "N8", "inside"],
    ]
    # What is measured off later comes off the ball as well.
    assert table.length_m.tolist() == [30.1, 16.4, 4.05, 11.5, 8.0]
    # A ball of which 54 m are sure has no more than that to give.
    yarns = demo().project.yarns
    smaller = yarns | {"N": replace(yarns["N"], metres_per_ball=60)}
    table = both_ends(make_plan(replace(demo().project, yarns=smaller)))
    assert (table.groupby("ball").length_m.sum() <= 54).all()


def test_both_ends_of_balls_that_are_not_alike():
    """By hand: stripes of 48.30 m and 36.30 m on balls of 90 m and of 45 m. The longer ball feeds
    both from its ends; where it is half as long none does."""
    rows = ["A" * 40 + "B" * 5 + "A" * 30] * 60
    for grams, ends in ((45, ["outside", "inside"]), (25, [])):
        yarn = Yarn("A", metres_per_ball=100, grams_per_ball=50, part_balls_g=(grams, 25))
        allow = Allowances(cast_on=0, bind_off=0, swatch_cm=0, spare=0, label_error=0)
        plan = plan_of(rows, {"A": yarn, "B": Yarn("B")}, allow=allow)
        assert both_ends(plan).end.tolist() == ends


# Splices


@pytest.mark.parametrize(("rows", "joins"), [(22, 4), (20, 3)])
def test_splices(rows, joins):
    """Two ends a join, none where the yarn felts, and two tails of 15 cm: 22 rows of 80 cm on
    bobbins of 4 m, five pieces; 20 rows on four, each overfull by 30 cm."""
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, loose_up_to_cm=200, place="train")
    yarns = {"A": Yarn("A", feltable=True), "B": Yarn("B")}
    plan = plan_of(["A" * 40 + "B" * 40] * rows, yarns, habits=habits)
    table = splices(plan).set_index(["yarn", "held"])
    for yarn, sewn, saved in (("A", 0, 2 * joins), ("B", 2 * joins, 0)):
        for held in ("as planned", BOBBIN):
            row = table.loc[yarn, held]
            assert (row.joins, row.more_yarn_m) == (joins, round(joins * 0.3, 1))
            assert (row.ends_to_sew_in, row.ends_saved_by_splicing) == (sewn, saved)
        # Neither of these has a refill, and a ball without a band has no end.
        for held in (LOOSE, BUTTERFLY, BALL):
            assert (yarn, held) not in table.index
    assert splices(demo())["joins"][splices(demo()).held == "as planned"].sum() == 0


# Left-overs


def test_leftover_of_the_demo_by_simulation():
    """K1 leaves K3 its 0.90 m with the chance that is said, by a multiplier drawn often: 3.7 ±
    0.45, 595 stitches of 5 mm."""
    # In the train it is wound.
    in_train = replace(demo().project.habits, place="train")
    plan = make_plan(replace(demo().project, habits=in_train))
    row = reuse_leftovers(plan).iloc[0]
    assert (row.strand, row.left_over_from) == ("K3", "K1")
    rng = np.random.default_rng(1)
    width = 595 * 0.5
    used = rng.normal(3.7, 0.45, 200_000) * width
    used += rng.normal(size=len(used)) * np.hypot(
        0.04 * np.sqrt(3.7 * width * 100), 0.02 * 3.7 * width
    )
    left = plan.strands.set_index("strand").loc["K1", ["worked_m", "margin_m"]].sum() * 100 - used
    # Rounded down, so half a percent less on the average.
    assert (left > 90).mean() * 100 == pytest.approx(row.chance_percent + 0.5, abs=1)
    assert np.quantile(left, 0.25) / 100 == pytest.approx(row.at_least_m, abs=0.03)


@every_random_plan
@pytest.mark.parametrize("sure", [0.5, 0.75])
def test_leftovers_are_given_once_and_in_time(number, sure):
    plan = random_plan(number)
    unit = "m" if plan.project.units == "cm" else "yd"
    table = reuse_leftovers(plan, sure)
    held = plan.supplies.assign(
        source=plan.supplies.strand
        + plan.supplies.part.map(lambda p: "" if p == "whole" else f" {p}")
    )
    assert not table.strand.duplicated().any()
    assert (table.done_in_row < table.from_row).all()
    assert (table.chance_percent >= 100 * sure - 1).all()
    for source, taken in table.groupby("left_over_from"):
        # Each length is shown to a hundredth, so each may be off by half of that.
        rounding = 0.005 * (len(taken) + 1)
        at_least = taken[f"at_least_{unit}"].iloc[0]
        assert taken[f"needs_{unit}"].sum() <= at_least + rounding
        assert held.supply[held.source == source].item() != BALL
    for row in table.itertuples():
        # As the winding list asks for it, each half rounded up.
        wound = [part.wound_cm for part in plan.parts if part.label == row.strand]
        needs_cm = sum(measured_cm(cm, plan.project.units) for cm in wound)
        unit_cm = 100 if unit == "m" else 91.44
        assert getattr(row, f"needs_{unit}") == pytest.approx(needs_cm / unit_cm, abs=0.0051)


def test_no_margin_no_leftover():
    """The plain rule winds what it says, so nothing is left to count on."""
    plain = replace(demo().project, multiplier=MultiplierChoice("rule of three"))
    assert len(reuse_leftovers(make_plan(plain))) == 0
