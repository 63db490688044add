"""The load of each row, against plain counts on the chart."""

from itertools import pairwise

from planner import CarryLimits, Chart, Construction, Project, make_plan
from tests.helpers.parts import exact_parts
from tests.helpers.rows import every_random_case, random_case, worked_rows


@every_random_case
def test_load_by_a_plain_count(number):
    rows, plan = random_case(number)
    table, how = plan.rows, plan.traced.how
    piece = worked_rows(rows, how)
    assert table.row.tolist() == list(range(1, len(piece) + 1))
    strands, supplies = plan.strands, plan.supplies
    # Both halves of a strand begun from its middle hang from its first row on.
    lengths = exact_parts(plan)
    due = [int(row) for text in supplies.refill_rows for row in text.split(", ") if row]
    for i, (cells, line) in enumerate(zip(piece, table.itertuples(), strict=True)):
        worked = cells.replace(".", "")
        assert line.stitches == len(worked)
        assert line.borders == sum(a != b for a, b in pairwise(worked))
        hangs = (lengths.hangs_from <= line.row) & (line.row <= lengths.last_row)
        assert line.live == hangs.sum()
        assert line.starts == (strands.first_row == line.row).sum()
        assert line.ends == (strands.last_row == line.row).sum()
        assert line.refills == due.count(line.row)
        assert line.load == ("easy" if line.live <= 3 else "busy" if line.live <= 6 else "crowded")
        assert line.chart_row == (i // 2 if how.fabric == "garter" else i) + 1
    assert table.starts.sum() == table.ends.sum() == plan.traced.count


def test_the_random_charts_try_everything():
    plans = [random_case(number)[1] for number in range(10)]
    assert {load for plan in plans for load in plan.rows.load} == {"easy", "busy", "crowded"}
    assert sum(plan.rows.refills.sum() for plan in plans) > 20
    assert sum(plan.traced.middle_starts for plan in plans) > 3


def test_sides_and_directions_by_eye():
    """Flat from a WS row: WS rows left to right, RS rows right to left; in rounds always RS, always
    one way."""
    chart = Chart.from_rows(["AB", "AB", "AB"])
    flat = make_plan(Project("flat", chart, how=Construction(first_row="WS"))).rows
    assert list(zip(flat.side, flat.works, strict=True)) == [
        ("WS", "left to right"),
        ("RS", "right to left"),
        ("WS", "left to right"),
    ]
    tube = make_plan(Project("tube", chart, how=Construction(worked="rounds", hand="left"))).rows
    assert set(zip(tube.side, tube.works, strict=True)) == {("RS", "left to right")}


def test_small_diamond_has_14_borders():
    """25 stitches of B in 27 columns, 3 strands, 14 borders (published,
    vicsknits.wordpress.com/2007/02/10)."""
    rows = ["A" * ((27 - n) // 2) + "B" * n + "A" * ((27 - n) // 2) for n in (1, 3, 5, 7, 5, 3, 1)]
    plan = make_plan(
        Project("diamond", Chart.from_rows(rows), limits=CarryLimits(middle_start=False))
    )
    assert plan.rows.borders.sum() == 14
    assert plan.rows.live.tolist() == [3] * 7
    assert plan.strands.groupby("yarn").stitches.sum()["B"] == 25
    assert plan.traced.count == 3


def test_both_halves_hang_from_the_first_row_on():
    """By eye: A, which runs behind B, and two legs of B begun in row 1 from one length, though only
    one is worked there; one leg ends in row 3, the other in row 4."""
    rows = ["AABAAAAAAAA", "AAABAAABAAA", "AAAABABAAAA", "AAAAABAAAAA"]
    plan = make_plan(Project("fork", Chart.from_rows(rows), by_yarn={"A": CarryLimits(across=3)}))
    assert plan.traced.labels == ("A1", "B1")
    assert plan.rows.live.tolist() == [3, 3, 3, 2]
    assert plan.cards[0].foot == ("3 hang at once: easy.",)
    assert "At most 3 lengths hang at once, in row 1 (RS): easy." in plan.summary()


def test_a_strand_is_live_while_it_is_carried():
    """A patch, two plain rows, the patch again: one strand of B, live in all six rows."""
    patch = ["AAABBBAAA"] * 2
    plan = make_plan(
        Project(
            "patch", Chart.from_rows([*patch, "A" * 9, "A" * 9, *patch]), limits=CarryLimits(up=2)
        )
    )
    strands = plan.strands
    strand = strands[strands.yarn == "B"]
    assert (strand.first_row.tolist(), strand.last_row.tolist()) == ([1], [6])
    in_row_3 = strands[(strands.first_row <= 3) & (strands.last_row >= 3)].yarn.tolist()
    assert in_row_3.count("B") == 1
    assert plan.rows.live[2] == len(in_row_3)
