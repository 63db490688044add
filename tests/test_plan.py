"""The plan as a whole: the public face, the demo, units, findings, look-alike colours, and the
report without notebooks."""

import shutil
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from coloraide import Color
from PIL import Image

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    PlanError,
    Project,
    Yarn,
    make_plan,
    open_project,
    trace_strands,
)
from planner.report import TABLES, main
from planner.strands.check import find_issues, rows_for
from tests.conftest import DEMO, ROOT


@pytest.fixture(scope="module")
def demo():
    return make_plan(open_project(DEMO))


def findings(rows, about, **asked):
    """The findings of one kind for a small chart."""
    found = make_plan(Project("piece", Chart.from_rows(rows), **asked)).findings
    return found[found.about == about]


# The public face


def test_public_face():
    chart = Chart.from_rows(["AAB", "ABB"])
    how = Construction(worked="flat", first_row="RS", hand="right", fabric="stockinette")
    gauge = Gauge(stitches=22, rows=30, over=10, unit="cm")
    limits = CarryLimits(across=0, sideways=5, up=2, middle_start=True)
    assert (how, gauge, limits) == (Construction(), Gauge(), CarryLimits())  # the defaults
    for changed in (
        Construction(worked="rounds"),
        Construction(first_row="WS"),
        Construction(hand="left"),
        Construction(fabric="garter"),
    ):
        assert changed != how
    strands = trace_strands(chart, how, gauge, limits, by_yarn={"A": CarryLimits(across=1)})
    assert (strands.count, strands.ends, strands.carried_stitches, strands.middle_starts) == (
        2,
        4,
        1,
        0,
    )
    table = strands.table()
    assert isinstance(table, pd.DataFrame)
    assert table.strand.tolist() == ["B1", "A1"]  # row 1 is worked from the right
    project = open_project(str(DEMO))
    plan = make_plan(project)
    for name in ("strands", "supplies", "winding_list", "shopping_list", "rows", "ends"):
        assert isinstance(getattr(plan, name), pd.DataFrame)
        assert len(getattr(plan, name)) > 0
    assert {"live", "borders", "load"} <= set(plan.rows)  # plan.rows is the load by row


def test_names_of_the_package():
    import planner

    for name in planner.__all__:
        assert getattr(planner, name).__module__.startswith("planner.")
    assert set(planner.__all__) <= set(dir(planner))
    with pytest.raises(AttributeError, match="'knit'"):
        planner.knit  # noqa: B018


def test_the_package_imports_nothing_heavy():
    """So that `python3 -m planner` runs on a bare Python; the names are there all the same."""
    heavy = (
        "numpy",
        "pandas",
        "scipy",
        "matplotlib",
        "ipywidgets",
        "rustworkx",
        "coloraide",
        "tomlkit",
        "filelock",
        "PIL",
    )
    code = (
        "import planner, planner.__main__, sys; print(*sys.modules); print(planner.Chart.__name__)"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded, name = ran.stdout.splitlines()
    assert "planner.__main__" in loaded.split()
    assert [module for module in loaded.split() if module.split(".")[0] in heavy] == []
    assert name == "Chart"


# Pure, and the same every time


def test_the_same_project_gives_the_same_plan(demo):
    again = make_plan(open_project(DEMO))
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(again, name), getattr(demo, name))
    assert again.notes == demo.notes
    assert (again.summary(), repr(again)) == (demo.summary(), repr(demo))
    np.testing.assert_array_equal(again.area_of_cell, demo.area_of_cell)


def test_a_plan_changes_nothing_in_its_project_or_folder(demo_copy):
    before = {path.name: path.read_bytes() for path in demo_copy.iterdir()}
    project = open_project(demo_copy)
    told = repr(project), project.chart.to_rows(), dict(project.yarns)
    make_plan(project)
    assert told == (repr(project), project.chart.to_rows(), dict(project.yarns))
    assert {path.name: path.read_bytes() for path in demo_copy.iterdir()} == before


# The demo


def test_the_demo_is_big_enough(demo):
    chart = demo.traced.chart
    assert chart.columns >= 60
    assert chart.rows >= 80
    assert len(chart.letters) >= 4


def test_the_demo_shows_what_the_planner_is_for(demo):
    """All four supplies, a split background, a yarn that runs behind thin lines, and a shape begun
    from its middle."""
    assert set(demo.supplies.supply) == {"loose strand", "butterfly", "bobbin", "from the ball"}
    areas, strands = demo.areas.groupby("yarn").size(), demo.strands.groupby("yarn").size()
    assert strands["N"] > areas["N"]  # the night sky, parted by what stands before it
    without = make_plan(replace(demo.project, by_yarn={}))
    assert without.traced.count > demo.traced.count  # it may run behind the mast and the gulls
    assert demo.strands.middle_start.sum() >= 1
    straight = make_plan(
        replace(demo.project, limits=replace(demo.project.limits, middle_start=False))
    )
    assert straight.traced.count > demo.traced.count


def test_summary_says_what_the_tables_say(demo):
    text = demo.summary()
    assert f"{len(demo.areas)} colour areas" in text
    assert f"{demo.traced.count} strands" in text
    assert f"{len(demo.ends)} ends to sew in" in text
    assert f"At most {demo.rows.live.max()} strands at once" in text
    assert f"{demo.strands.wound_m.sum():.2f} m" in text
    assert "3.70 ± 0.45, an estimate before any swatch" in text
    assert "once in 20" in text
    for kind, n in demo.supplies.supply.value_counts().items():
        assert f"{n} × {kind}" in text


def test_until_a_swatch_the_rule_of_three_stands_beside(demo):
    assert (demo.winding_list.rule_of_three_m > 0).all()
    assert (demo.winding_list.rule_of_three_m < demo.winding_list.length_m).all()
    assert (
        "rule of three, without a margin. No margin"
        in make_plan(
            replace(demo.project, multiplier=replace(demo.project.multiplier, way="rule of three"))
        ).how_sure()
    )


def test_inches_and_yards(demo):
    """The same plan in yards: every length divided by 0.9144, no column in metres left."""
    yards = make_plan(replace(demo.project, units="in"))
    assert yards.traced.labels == demo.traced.labels
    pairs = 0
    for name in TABLES:
        table, metric = getattr(yards, name), getattr(demo, name)
        assert not [column for column in table if column.endswith(("_m", "_cm"))]
        for column in metric:
            if (
                column.endswith("_m") and name != "winding_list"
            ):  # its lengths are rounded up to other steps
                np.testing.assert_allclose(
                    table[f"{column[:-2]}_yd"] * 0.9144, metric[column], atol=0.011
                )
                pairs += 1
    assert pairs > 10
    assert " yd" in yards.winding_list.line[0]
    assert yards.wound_cm == pytest.approx(demo.wound_cm, rel=1e-3)


# Findings


def test_nothing_to_find_in_a_plain_piece():
    piece = Project("piece", Chart.from_rows(["AAAA"] * 4), {"A": Yarn("A")}, Gauge(20, 20))
    assert make_plan(piece).findings.empty


def test_stray_stitches_are_named_with_their_place():
    """A stray B in row 3, third from the right; its row begins at the right-hand edge."""
    rows = ["AAAAAA"] * 2 + ["AAABAA"] + ["AAAAAA"] * 2
    stray = findings(rows, "stray stitches").iloc[0]
    assert stray["where"] == "row 3 (RS), which begins at the right, stitch 3 from the right"
    assert (stray.row, stray.stitch) == (3, 3)
    assert "a single B costs a strand and two ends" in stray.finding
    assert "duplicate stitch" in stray.what_to_do
    two = findings(["AAAAAA", "AABBAA", "AAAAAA"], "stray stitches").iloc[0]
    assert two["where"] == "row 2 (WS), which begins at the left, stitch 4 from the right"
    assert two.finding.startswith("2 stitches of B")


def test_stitches_within_reach_of_their_like_are_not_stray():
    assert findings(["AAAAAA", "AAABAA", "AABAAA", "AAAAAA"], "stray stitches").empty
    assert findings(["AAAAAA", "ABBBAA", "AAAAAA"], "stray stitches").empty  # three are a motif


def test_row_totals():
    """A shaped neck: the rows with other totals, stretch by stretch."""
    rows = [".AAAA.", ".AAAA.", "AAAAAA", "AAAAA.", "AAAAAA", "AAAAAA"]
    found = findings(rows, "row totals")
    assert found["where"].tolist() == ["chart row 3", "chart rows 5 to 6"]
    assert found.finding.tolist() == [
        "5 stitches, most rows have 6",
        "4 stitches, most rows have 6",
    ]


def test_letters_easily_confused():
    assert findings(["Aa"], "letters").finding.tolist() == [
        "A and a are easily taken for each other"
    ]
    assert findings(["Il"], "letters").finding.tolist() == [
        "I and l are easily taken for each other"
    ]
    assert findings(["AB"], "letters").empty


def test_rows_for_a_height():
    """By eye: 28 rows to 10 cm are 70 in 25 cm; 30 rows to 4 in are 60 in 8 in."""
    assert rows_for(25, Gauge(20, 28)) == 70
    assert rows_for(8, Gauge(24, 30, 4, "in"), "in") == 60
    with pytest.raises(PlanError, match='height is "tall"'):
        rows_for("tall", Gauge())


# Look-alike colours

# CIEDE2000 test pairs of Sharma, Wu and Dalal, Color Research & Application 30 (2005): second-hand
# (agreeing copies in other
# programs' tests); Lab of the first colour, of the second, and their difference.
PAIRS = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0009), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0011), 7.2195),
    ((50, -0.0010, 2.4900), (50, 0.0009, -2.4900), 4.8045),
    ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((50, 2.5, 0), (61, -5, 29), 22.8977),
    ((50, 2.5, 0), (56, -27, -3), 31.9030),
    ((50, 2.5, 0), (58, 24, 15), 19.4535),
]


@pytest.mark.parametrize(("one", "other", "difference"), PAIRS)
def test_colour_difference(one, other, difference):
    """The library's formula, called as the findings call it."""
    a, b = Color("lab-d65", one), Color("lab-d65", other)
    assert a.delta_e(b, method="2000") == pytest.approx(difference, abs=5e-5)
    assert b.delta_e(a, method="2000") == pytest.approx(difference, abs=5e-5)


@pytest.mark.parametrize(
    ("one", "other", "difference"), [pair for pair in PAIRS if max(map(abs, pair[1])) < 79]
)
def test_look_alike_yarns(one, other, difference):
    """The pairs that a screen can show, as yarns in #rrggbb: those below 10 are found, with a
    difference near the published."""
    colours = [Color("lab-d65", lab).convert("srgb").to_string(hex=True) for lab in (one, other)]
    yarns = {
        letter: Yarn(letter, colour=colour) for letter, colour in zip("AB", colours, strict=True)
    }
    found = findings(["AB"], "colours", yarns=yarns)
    assert len(found) == (difference < 10)
    if len(found):
        assert found["where"].tolist() == ["yarns A and B"]
        assert float(found.finding.iloc[0].split("CIEDE2000 ")[1].split(",")[0]) == pytest.approx(
            difference, abs=0.8
        )  # #rrggbb is rounded


def test_black_and_white_do_not_look_alike():
    yarns = {"A": Yarn("A", colour="#000000"), "B": Yarn("B", colour="#ffffff")}
    assert findings(["AB"], "colours", yarns=yarns).empty


def test_yarns_that_are_not_on_the_chart_are_not_compared():
    traced = trace_strands(Chart.from_rows(["AAA"]))
    yarns = {"A": Yarn("A"), "B": Yarn("B")}
    assert set(find_issues(traced, yarns, yarns).about) == {"yarns", "aspect"}


# The report


def test_report_writes_tables_and_pictures_and_prints(demo_copy, capsys, demo):
    assert main([str(demo_copy)]) == 0
    out = capsys.readouterr().out
    assert demo.summary() in out
    for line in demo.winding_list.line:
        assert line in out
    for words in (
        "Check before cast-on",
        "Winding list, in the order of first need",
        "Shopping list",
        "Take breaks",
        "wool"[:0] + "Drawing",
    ):
        assert words in out
    folder = demo_copy / "plan"
    pictures = {"chart.png", "strands.png", "strand-order.png", "load.png"}
    assert {path.name for path in folder.iterdir()} == pictures | {f"{name}.csv" for name in TABLES}
    for name in TABLES:
        table = pd.read_csv(folder / f"{name}.csv", dtype="string", keep_default_na=False)
        assert list(table) == list(getattr(demo, name))
        assert len(table) == len(getattr(demo, name))
        assert b"\r" not in (folder / f"{name}.csv").read_bytes()
    lots = (
        pd.read_csv(folder / "shopping_list.csv", dtype="string", keep_default_na=False)
        .set_index("yarn")
        .dye_lot
    )
    assert lots["T"] == "007"
    for name in pictures:
        with Image.open(folder / name) as picture:
            assert min(picture.size) > 300
            assert len(picture.convert("RGB").getcolors(2**24)) > 5


def test_report_twice_writes_the_same(tmp_path, capsys):
    (tmp_path / "piece.toml").write_text('name = "patch"\n')
    (tmp_path / "chart.csv").write_text("A,A,A,A\nA,B,B,A\nA,B,B,A\nA,A,A,A\n")
    written = []
    for _ in range(2):
        assert main([str(tmp_path)]) == 0
        printed = capsys.readouterr().out
        written.append(
            (printed, {path.name: path.read_bytes() for path in (tmp_path / "plan").iterdir()})
        )
    assert written[0] == written[1]


@pytest.mark.parametrize(
    ("break_it", "words"),
    [
        (
            lambda folder: (folder / "chart.csv").write_text("A,B\nA\n"),
            ["chart.csv", "row 1", "Add or take away"],
        ),
        (
            lambda folder: (folder / "piece.toml").write_text("[gauge]\nstitches = 0\n"),
            ["stitches", "more than 0"],
        ),
        (lambda folder: shutil.rmtree(folder), ["no folder", "harbour-cushion"]),
    ],
)
def test_report_of_a_broken_folder(demo_copy, capsys, break_it, words):
    break_it(demo_copy)
    assert main([str(demo_copy)]) == 1
    said = capsys.readouterr()
    assert said.err.startswith("Please look at this: ")
    assert "Traceback" not in said.out + said.err
    assert [word for word in words if word not in said.err] == []
    assert not (demo_copy / "plan").exists()


@pytest.mark.parametrize("arguments", [[], ["one", "two"]])
def test_report_wants_one_folder(capsys, arguments):
    assert main(arguments) == 2
    assert "python3 -m planner plan data/NAME" in capsys.readouterr().out


def test_an_error_shows_as_words_in_a_notebook():
    with pytest.raises(PlanError) as caught:
        Gauge(0)
    assert caught.value._render_traceback_() == [f"Please look at this: {caught.value}"]
    assert isinstance(caught.value, ValueError)


def test_findings_know_a_ridge():
    """Garter: single stitches are found though each is worked twice, and a ridge is two rows
    high."""
    chart = Chart.from_rows(["AAAAAAAAAAAAAAA", "AAAAAAABAAAAAAA", "AAAAAAAAAAAAAAA"])
    plan = make_plan(
        Project("scarf", chart, gauge=Gauge(20, 40), how=Construction(fabric="garter"))
    )
    assert plan.findings.about.tolist().count("stray stitches") == 1
    assert "aspect" not in plan.findings.about.tolist()  # 2 × 20 ÷ 40 = 1
    few = make_plan(
        Project("scarf", chart, gauge=Gauge(20, 20), how=Construction(fabric="garter"))
    ).findings
    assert any("two rows to a ridge" in text for text in few.what_to_do)
