"""The plan as a whole: the public face, the demo, units, and the report without notebooks."""

import shutil
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    PlanError,
    Project,
    make_plan,
    open_project,
    trace_strands,
)
from planner.paper import TABLES, tables_of
from planner.piece import SUPPLIES, MultiplierChoice
from planner.report import main
from tests.conftest import DEMO, ROOT
from tests.helpers import plans


@pytest.fixture
def demo():
    return plans.demo()


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
    before[".lock"] = b""  # what every reader holds while it reads
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
    """All four supplies, one after another too, a split background, a yarn that runs behind thin
    lines, and a shape begun from its middle."""
    assert {each.supply for each in demo.held} == set(SUPPLIES)
    # And a bobbin that is wound from its ball in mid-strand.
    assert "from the ball, then bobbin" in set(demo.supplies.supply)
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
    assert f"At most {demo.rows.live.max()} lengths hang at once" in text
    # What the winding list asks to measure off, line by line, to a whole metre.
    to_measure = (demo.winding_list.pieces * demo.winding_list.length_m).sum()
    assert f"Yarn for the piece: {to_measure:.0f} m." in text
    assert "Yarn a row takes: between 3.0 and 4.4 times the knitted width (an estimate)." in text
    assert "once in 20" in text
    for kind, n in demo.supplies.supply.value_counts().items():
        assert f"{n} × {kind}" in text


def test_until_a_swatch_the_rule_of_three_stands_beside(demo):
    table = demo.winding_list
    # What is measured off in mid-strand, and what is fed until then, is less than a part.
    parted = [each.part.label for each in demo.held if each.measured_off]
    stages = table.labels.str.split(" ").str[0].isin(parted)
    assert stages.sum() == 2 * len(parted) == 4
    assert table.rule_of_three_m[stages].isna().all()
    whole = table[~stages]
    assert (whole.rule_of_three_m > 0).all()
    assert (whole.rule_of_three_m < whole.length_m).all()
    assert (
        "rule of three, without a margin). No margin"
        in make_plan(
            replace(demo.project, multiplier=replace(demo.project.multiplier, way="rule of three"))
        ).how_sure()
    )


def test_inches_and_yards(demo):
    """The same plan in yards: every length divided by 0.9144, no column in metres left.

    What is measured off is rounded up to other steps, an inch or ¼ yd, and listed in inches.
    """
    yards = make_plan(replace(demo.project, units="in"))
    assert yards.traced.labels == demo.traced.labels
    pairs = 0
    for name in TABLES:
        table, metric = getattr(yards, name), getattr(demo, name)
        assert not [column for column in table if column.endswith(("_m", "_cm"))]
        for column in metric:
            if column.endswith("_m") and name not in (
                "winding_list",
                "shopping_list",
                "embroidery",
            ):
                np.testing.assert_allclose(
                    table[f"{column[:-2]}_yd"] * 0.9144, metric[column], atol=0.011
                )
                pairs += 1
    assert pairs >= 9
    assert " yd" in yards.winding_list.line[0]
    for plan, unit_cm, step_cm in ((demo, 100, 5), (yards, 2.54, 22.86)):
        lines, unit = plan.winding_list, "m" if plan is demo else "in"
        to_measure_cm = (lines.pieces * lines[f"length_{unit}"]).sum() * unit_cm
        assert plan.yarn_cm == pytest.approx(to_measure_cm)
        # So much is taken, and each part of a strand, and each refill, is rounded up by less than
        # a step. A refill adds two tails.
        tails_cm = 2 * plan.project.allow.tail_cm * plan.supplies.refills.sum()
        takes_cm = sum(part.wound_cm for part in plan.parts) + tails_cm
        pieces = len(plan.supplies) + plan.supplies.refills.sum()
        assert takes_cm <= plan.yarn_cm < takes_cm + pieces * step_cm


# Areas


RING = [
    *["B" * 11] * 3,
    *["BBBBYYYBBBB"] * 4,
    *["BYYYBBBYYYB"] * 5,
    *["BBBBYYYBBBB"] * 4,
    *["B" * 11] * 3,
]


def test_ring():
    """5 strands though only 2 + 1 colour areas, at most 5 at once (published,
    textilefusion.com/?p=1170)."""
    plan = make_plan(
        Project("ring", Chart.from_rows(RING), limits=CarryLimits(sideways=3, middle_start=False))
    )
    assert plan.areas.groupby("yarn").size().to_dict() == {"B": 2, "Y": 1}
    assert plan.strands.groupby("yarn").size().to_dict() == {"B": 3, "Y": 2}
    assert plan.rows.live.max() == 5
    assert "3 colour areas" in plan.summary()
    assert "5 strands" in plan.summary()


@pytest.mark.parametrize(("worked", "areas"), [("flat", 3), ("rounds", 2)])
def test_a_tube_closes_at_its_seam(worked, areas):
    """A left and right of B: two areas on a flat piece, one round the tube."""
    plan = make_plan(
        Project("seam", Chart.from_rows(["AABBBA"] * 4), how=Construction(worked=worked))
    )
    assert len(plan.areas) == areas


def test_areas_of_the_demo_are_fewer_than_its_strands(demo):
    assert len(demo.areas) < demo.traced.count
    assert demo.areas.groupby("yarn").stitches.sum().to_dict() == demo.traced.chart.stitches()


# Notes


def test_a_crochet_figure_is_queried_once():
    """Figures of 9 and more in knitting tables are crochet (published, practitioner pages), and so
    say the notes: once, though two yarns share the figure."""
    multiplier = MultiplierChoice("own", 9, 0)
    plan = make_plan(Project("piece", Chart.from_rows(["AB"] * 5), multiplier=multiplier))
    (note,) = plan.notes
    assert "crochet" in note
    assert "9" in note


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
        "Drawing",
    ):
        assert words in out
    folder = demo_copy / "plan"
    pictures = {"chart.png", "strands.png", "strand-order.png", "load.png"}
    tables = {"tables.xlsx", *(f"{name}.csv" for name in TABLES)}
    assert {path.name for path in folder.iterdir()} == pictures | tables
    for name, planned in tables_of(demo).items():
        table = pd.read_csv(folder / f"{name}.csv", dtype="string", keep_default_na=False)
        assert list(table) == list(planned)
        assert len(table) == len(planned)
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
