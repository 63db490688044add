"""The forms of notebook 1, driven as a browser drives them."""

from io import BytesIO

import ipywidgets as widgets
import pytest
from openpyxl import load_workbook
from PIL import Image

from planner import Chart, Construction, Gauge, PlanError, Yarn, open_project
from planner.folder import read_yarns
from planner.paper import TABLES
from planner.workbook import (
    Form,
    construction_form,
    height_form,
    load_form,
    out_form,
    place_form,
    quick_sum_form,
    yarns_form,
)
from planner.workbook.chart_and_gauge import (
    MIRRORED,
    REPEATED,
    SET,
    WHOLE,
    check_title,
    comes_to_title,
    gauge_and_height_form,
    gauge_title,
    height_in_words,
    how_title,
    placed,
    quick_sum_html,
)
from planner.workbook.written_out import CHART_FILES, PLAN_FILES, chart_file, plan_files
from planner.workbook.yarns import yarn_of, yarns_title
from tests.helpers.folders import contents
from tests.helpers.forms import box, boxes, by_label, choose_file, press, said, small

# ---- the quick sum, the height, the construction


def test_quick_sum_form():
    """60 stitches at 20 in 10 cm: 30 cm × 3.7 + 30 cm = 141 cm likely, more to wind.

    The rule of three gives 120 cm.
    """
    form = quick_sum_form(small())
    for words in (
        "60 stitches × 10 cm ÷ 20 = 30 cm",
        "Likely length: 141 cm",
        "Wind: 165.8 cm, that is 1.70 m",
        "120 cm",
    ):
        assert words in said(form)
    box(form, "stitches in the motif").value = 120
    box(form, "each tail").value = 10
    assert "Likely length: 242 cm" in said(form)
    box(form, "stitches in the motif").value = 0
    assert "Please look at this" in said(form)
    assert "at least 1" in said(form)
    box(form, "stitches in the motif").value = 120
    box(form, "gauge: stitches").value = 0
    assert "more than 0" in said(form)


def test_quick_sum_form_keeps_lengths_when_the_unit_changes():
    """By rule of thumb 60 stitches at 6 to the inch, tails of 6 in: 42 in (no source).

    Tails that nobody touched are as round in cm: 2 × 15 more than 3 × 25.4 cm are 106.2 cm.
    """
    form = quick_sum_form(small(units="in"))
    box(form, "gauge: stitches").value, box(form, "over").value = 6, 1
    assert "= 42 in" in said(form)
    box(form, "lengths in").value = "cm"
    assert (box(form, "over").value, box(form, "each tail").value) == (2.54, 15)
    assert "= 106.2 cm" in said(form)


def test_what_was_typed_comes_back_with_its_unit():
    """14 cm are shown as 5.512 in, reckoned with as 14 cm, and 14 cm again afterwards."""
    form = quick_sum_form(small())
    box(form, "each tail").value = 14
    before = said(form)
    box(form, "lengths in").value = "in"
    assert box(form, "each tail").value == 5.512
    assert "cm" not in said(form)
    box(form, "lengths in").value = "cm"
    assert box(form, "each tail").value == 14
    assert said(form) == before


def test_the_needle_is_kept_and_stands_in_the_heading(desk):
    form = gauge_and_height_form(desk)
    box(form, "needle").value = " 3.75 mm "
    assert open_project(desk.project.folder).needle == "3.75 mm"
    assert ", needle 3.75 mm; " in gauge_title(desk.plan)
    desk.change(needle="4 mm")
    assert box(form, "needle").value == "4 mm"


def test_headings_say_how_things_stand():
    """By hand: 6 stitches at 20 in 10 cm and 4 rows at 28 are 3 × 1.4 cm."""
    desk = small(yarns={letter: Yarn(letter) for letter in "AB"})
    assert gauge_title(desk.plan).startswith("Gauge: 20 stitches and 28 rows over 10 cm; 3 × 1 cm")
    assert how_title(desk.plan).endswith(": Flat, RS first, right-handed, stockinette")
    desk.change(how=Construction("turned", "WS", "left", "garter", selvedge=1))
    words = "In turned rounds, WS first, left-handed, garter, 1 selvedge stitch at each side"
    assert how_title(desk.plan).endswith(words)
    found = len(desk.plan.findings)
    assert f"{found} thing" in check_title(desk.plan)
    assert comes_to_title(desk.plan).endswith(f"{desk.plan.ends_in_all} ends")
    assert yarns_title(desk.plan) == "Yarns: 2 (A, B)"


def test_the_size_of_a_piece_follows_the_chart_until_it_is_typed():
    desk = small()
    form = place_form(desk)
    desk.change(chart=Chart.from_rows(["AAB", "ABB"]))
    assert (box(form, "stitches of the piece").value, box(form, "rows of the piece").value) == (
        3,
        2,
    )
    box(form, "rows of the piece").value = 9
    desk.change(chart=Chart.from_rows(["AB"]))
    assert (box(form, "stitches of the piece").value, box(form, "rows of the piece").value) == (
        2,
        9,
    )


def test_construction_form():
    desk = small()
    form, pane = construction_form(desk), desk.table(lambda plan: plan.rows)
    assert "WS" in pane.value
    box(form, "worked").value = "rounds"
    assert "WS" not in pane.value
    box(form, "worked").value = "turned"
    assert "WS" in pane.value
    assert "At the join: after the turn, a yarn-over" in str(desk.plan.cards[1])
    box(form, "worked").value = "rounds"
    box(form, "fabric").value = "garter"
    box(form, "direction of work").value = "left"
    box(form, "first row").value = "WS"
    assert desk.project.how == Construction("rounds", "WS", "left", "garter")
    assert len(desk.plan.rows) == 8


def test_height_form():
    """By eye: 28 rows to 10 cm, so 5 cm take 14 rows, 10 more than the chart's 4."""
    desk = small()
    form = height_form(desk)
    box(form, "wanted height").value = 5
    assert "5 cm takes 14 worked rows" in said(form)
    assert "10 more than the chart's 4" in said(form)
    desk.change(gauge=Gauge(20, 8))
    assert "just as many" in said(form)
    box(form, "wanted height").value = float("nan")
    assert "Please look at this" in said(form)


# ---- a new piece, and its yarns


def test_a_yarn_is_changed_and_another_added(desk, demo_copy):
    before = (demo_copy / "yarns.csv").read_text().splitlines()
    form = yarns_form(desk)
    box = by_label(form)
    box["yarn"].value = "N"
    assert box["name"].value == desk.project.yarns["N"].name
    box["metres in a ball (0: not known)"].value = 123.5
    press(form, "Keep this yarn")
    box["yarn"].value = "another yarn"
    box["its letter on the chart"].value, box["name"].value, box["colour"].value = (
        "Q",
        "Quince, =1+1",
        "#ddcc22",
    )
    press(form, "Keep this yarn")
    yarns = read_yarns(demo_copy / "yarns.csv")
    assert yarns["N"].metres_per_ball == 123.5
    assert (yarns["Q"].name, yarns["Q"].colour, yarns["Q"].metres_per_ball) == (
        "Quince, =1+1",
        "#ddcc22",
        None,
    )
    after = (demo_copy / "yarns.csv").read_text().splitlines()
    # The others keep their words, with three cells more: what an older file does not say.
    assert before[0] + ",superwash,surface,part_balls_g" == after[0]
    assert [line + ",,," for line in before[1:] if not line.startswith("N,")] == [
        line for line in after[1:] if not line.startswith(("N,", "Q,"))
    ]


def test_how_a_yarn_behaves_and_its_part_balls(desk, demo_copy):
    form = yarns_form(desk)
    box = by_label(form)
    box["yarn"].value = "N"
    assert box["its surface"].value == "smooth"
    box["superwash: it does not felt"].value = True
    box["its surface"].value = "hairy"
    box["balls begun, each weighed (g)"].value = "34; 12.5"
    press(form, "Keep this yarn")
    yarn = read_yarns(demo_copy / "yarns.csv")["N"]
    assert (yarn.superwash, yarn.surface, yarn.part_balls_g) == (True, "hairy", (34, 12.5))
    # The form shows what is kept, and what another yarn has not.
    box["yarn"].value = "K"
    weights = box["balls begun, each weighed (g)"]
    assert (weights.value, box["its surface"].value) == ("", "smooth")
    box["yarn"].value = "N"
    assert (weights.value, box["its surface"].value) == ("34; 12.5", "hairy")
    # What is no weight is refused in words, and nothing is put down.
    weights.value = "half a ball"
    press(form, "Keep this yarn")
    assert "the weight of a part ball" in said(form)
    assert desk.project.yarns["N"].part_balls_g == (34, 12.5)
    weights.value = ""
    press(form, "Keep this yarn")
    assert desk.project.yarns["N"].part_balls_g == ()


def test_a_yarn_that_cannot_be(desk):
    form, before = yarns_form(desk), contents(desk.project.folder)
    box = by_label(form)
    box["yarn"].value = "another yarn"
    for letter, name, words in (
        ("N", "", "There is a yarn N already"),
        ("N1", "", "not a yarn letter"),
        ("", "Oat", 'The yarn\'s letter is missing: "its letter on the chart" is empty'),
        ("Q", "=HYPERLINK(1)", "a spreadsheet would take for a formula"),
    ):
        box["its letter on the chart"].value, box["name"].value = letter, name
        press(form, "Keep this yarn")
        assert words in said(form)
    assert contents(desk.project.folder) == before


def test_the_name_of_a_new_yarn_suggests_its_colour(desk):
    form = yarns_form(desk)
    box = by_label(form)
    box["name"].value = "Cherry red"  # of a yarn that is known it changes nothing
    assert box["colour"].value == desk.project.yarns[box["yarn"].value].colour
    box["yarn"].value = "another yarn"
    box["name"].value, box["its letter on the chart"].value = "Sea green", "Q"
    assert (box["colour"].value, box["colour"].said != "") == ("#2e8b57", True)
    press(form, "Keep this yarn")
    assert desk.project.yarns["Q"].colour == "#2e8b57"


def test_the_gauge_has_one_box_for_its_unit(desk):
    """The height is in the units of the piece, as all that is made."""
    form = gauge_and_height_form(desk)
    units = [each for each in boxes(form, widgets.Dropdown) if "cm" in each.options]
    assert [unit.description for unit in units] == ["lengths measured in"]
    height = by_label(form)["wanted height (cm)"]
    height.value = 50.8
    desk.change(units="in")
    assert by_label(form)["wanted height (in)"].value == 20
    assert "20 in takes" in said(form)


# ---- into a piece, and out


def test_into_a_piece(desk):
    desk.change(chart=Chart.from_rows(["TN", "NN"]))
    form = place_form(desk)
    box = by_label(form)
    box["stitches of the piece"].value, box["rows of the piece"].value, box["ground"].value = (
        5,
        4,
        "N",
    )
    press(form, "Do it")
    assert "cannot be halved" in said(form)
    box["an odd stitch more"].value = "left"
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["NNNNN", "NNTNN", "NNNNN", "NNNNN"])
    box["the chart is to be"].value = MIRRORED
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["NNNNN", "NNTNN", "NNNNN", "NNNNN"])
    desk.change(chart=Chart.from_rows(["TN"]))
    box["the chart is to be"].value = REPEATED
    by_label(form)["times one above the other"].value = 2
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["TNTN", "TNTN"])
    box["the chart is to be"].value = WHOLE
    by_label(form)["its centre is at the"].value = "right"
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["TNTNTNT"] * 2)


def test_out_and_in_again_is_the_same_chart(desk, demo_copy):
    chart = desk.project.chart
    form = out_form(desk)
    for what in CHART_FILES.values():
        press(form, what)
        assert "written to harbour-cushion/out/" in said(form)
    assert load_workbook(demo_copy / "out" / "harbour-cushion-chart.xlsx").sheetnames == [
        "Chart",
        "Yarns",
    ]
    # What holds the chart itself; pictures are read back in tests/charts.
    for name in ("chart.xlsx", "chart.csv", "chart.txt"):
        desk.change(chart=Chart.from_rows(["N"]))
        back = load_form(desk)
        file = demo_copy / "out" / f"harbour-cushion-{name}"
        choose_file(back, file.name, file.read_bytes())
        press(back, "Make it the chart of this piece")
        assert desk.project.chart == chart, name


def test_the_plans_tables_are_written_out(desk, demo_copy):
    form = out_form(desk)
    for what in PLAN_FILES.values():
        press(form, what)
        assert "written to harbour-cushion/out/harbour-cushion-tables" in said(form)
    book = load_workbook(demo_copy / "out" / "harbour-cushion-tables.xlsx")
    assert book.sheetnames == [name.replace("_", " ") for name in TABLES]
    folder = demo_copy / "out" / "harbour-cushion-tables"
    assert {path.stem for path in folder.iterdir()} == set(TABLES)


def test_a_saved_notebook_keeps_the_forms_in_words(desk):
    for form in (
        load_form(desk),
        place_form(desk),
        out_form(desk),
        yarns_form(desk),
    ):
        assert isinstance(form, Form)
        assert "Run this cell to change it here" in form._repr_mimebundle_()["text/html"]


# ---- the functions behind the forms


@pytest.mark.parametrize(("height", "words"), [
    (5, "5 cm takes 14 worked rows at this gauge: 10 more than the chart's 4."),
    (1, "1 cm takes 3 worked rows at this gauge: 1 fewer than the chart's 4."),
    (1.4, "1.4 cm takes 4 worked rows at this gauge: just as many."),
])  # fmt: skip
def test_height_in_words(height, words):
    assert height_in_words(small().plan, height, "cm") == words


def test_quick_sum_by_function():
    """60 stitches at 20 over 10 cm are 30 cm; two tails of 6 in are 30.48 cm."""
    words = quick_sum_html(stitches=60, count=20, over=10, tail=15.24, unit="cm")
    assert "2 × 15.2 cm = 30.5 cm" in words
    with pytest.raises(PlanError, match="at least 1"):
        quick_sum_html(stitches=0, count=20, over=10, tail=15, unit="cm")


def test_a_yarn_is_what_was_typed():
    project = small(yarns={"A": Yarn("A", "Sand", metres_per_ball=100)}).project
    changed = yarn_of(project, "A", {"dye_lot": " 114 ", "metres_per_ball": 0.0})
    assert changed == Yarn("A", "Sand", dye_lot="114")
    assert yarn_of(project, "B", {"name": "Blue"}).name == "Blue"  # on the chart, in no list yet
    assert yarn_of(project, "another yarn", {"letter": "Q", "name": "Quince"}).title == "Q Quince"
    with pytest.raises(PlanError, match="begins with @"):
        yarn_of(project, "A", {"name": "@home"})


@pytest.mark.parametrize(("what", "typed", "rows"), [
    (SET, {"stitches": 3, "rows": 2, "ground": "T", "across": "left", "up": "top",
           "spare_stitch": "", "spare_row": ""}, ["TNT", "TTT"]),
    (REPEATED, {"times_across": 2, "times_up": 2}, ["TNTN", "TNTN"]),
    (MIRRORED, {}, ["NT"]),
    (WHOLE, {"centre_at": "right", "centre": "once"}, ["TNT"]),
    (WHOLE, {"centre_at": "left", "centre": "twice"}, ["NTTN"]),
])  # fmt: skip
def test_placed(what, typed, rows):
    assert placed(Chart.from_rows(["TN"]), what, typed) == Chart.from_rows(rows)


def test_chart_files():
    plan = small().plan
    assert chart_file(plan, "chart.csv").decode().splitlines()[0] == "A,A,A,A,A,A"
    assert chart_file(plan, "chart.txt").decode().startswith("Row 1 (RS): 6 A")
    assert chart_file(plan, "chart.png").startswith(b"\x89PNG")
    assert chart_file(plan, "chart.svg").startswith(b"<svg")
    assert chart_file(plan, "chart.xlsx").startswith(b"PK")
    pixels = Image.open(BytesIO(chart_file(plan, "chart-one-pixel-a-stitch.png")))
    chart = plan.project.chart
    assert pixels.size == (chart.columns, chart.rows)
    assert {len(chart_file(plan, name)) > 0 for name in CHART_FILES} == {True}


def test_tables_of_the_plan():
    plan = small().plan
    assert set(plan_files(plan, "tables.xlsx")) == {"tables.xlsx"}
    files = plan_files(plan, "tables")
    assert "tables/winding_list.csv" in files
    assert files["tables/strands.csv"].decode().count("\n") == 1 + len(plan.strands)
