"""A swatch from the chart in notebook 2, and what is measured in it, logged in its piece too."""

import html

import pytest

from planner import Gauge, open_project
from planner.charts import find_window
from planner.folder import read_measurements
from planner.piece import MARKED, SUPPLY
from planner.workbook import Desk, measure_form, open_desk, swatch_form, swatch_in_words
from planner.workbook.basket import basket_html
from planner.workbook.from_chart import where_it_lies, window_html
from tests.helpers.folders import kept
from tests.helpers.forms import box, press, said, small
from tests.helpers.measuring import TYPED, fill, log


@pytest.fixture
def swatch(data):
    """The desk with the swatch of the demo, and the form that made it."""
    desk = open_desk("harbour-cushion")
    form = swatch_form(desk)
    assert "a vertical border, a slant, a one-stitch line, a middle start" in said(form)
    press(form, "Make the swatch")
    return desk, form


def test_the_swatch_is_made_and_open(data, swatch):
    desk, form = swatch
    assert desk.project.name == "Harbour cushion swatch"
    assert desk.project.folder == data / "harbour-cushion-swatch"
    kept_there = open_project(data / "harbour-cushion-swatch")
    assert kept_there.swatch_of == "harbour-cushion"
    assert kept_there.chart == desk.project.chart
    assert len(kept_there.measurements) == 3
    assert swatch_in_words(desk.plan) == "This is a swatch of harbour-cushion"
    assert "as that of Harbour cushion" in said(form)
    press(form, "Back to its piece")
    assert desk.project.name == "Harbour cushion"
    press(form, "Make the swatch")
    assert "There is a piece harbour-cushion-swatch already" in said(form)


def test_the_size_is_set(data):
    desk = open_desk("harbour-cushion")
    form = swatch_form(desk)
    box(form, "stitches").value, box(form, "rows").value = 12, 10
    press(form, "Make the swatch")
    assert (desk.project.chart.columns, desk.project.chart.rows) == (12, 10)


def test_what_is_measured_is_logged_in_its_piece(data, swatch):
    """In the copy of the demo, which stays as it is; a correction takes the same line's place."""
    desk, _ = swatch
    form = measure_form(desk)
    log(fill(form, MARKED, **TYPED[MARKED]))
    assert "logged in my-harbour-cushion too" in said(form)
    assert len(read_measurements(data / "harbour-cushion")) == 17
    there = read_measurements(data / "my-harbour-cushion")
    here = desk.project.measurements
    assert (len(there), there[-1].number) == (18, 18)
    assert there[-1].length_cm == here[-1].length_cm
    fill(form, MARKED, corrects=here[-1].number, stitches=61)
    log(form)
    there = read_measurements(data / "my-harbour-cushion")
    assert (there[-1].corrects, there[-1].stitches) == (18, 61)


def test_a_strand_is_named_as_the_swatchs_and_need_not_be_logged_there(data, swatch):
    desk, _ = swatch
    form = measure_form(desk)
    strand = desk.plan.parts[0].label
    log(fill(form, SUPPLY, strand=strand, left=5))
    there = read_measurements(data / "my-harbour-cushion")
    assert there[-1].strand == f"{strand} of the swatch"
    box(form, "also log it in").value = False
    log(fill(form, MARKED, **TYPED[MARKED]))
    assert len(read_measurements(data / "my-harbour-cushion")) == len(there)


def test_its_gauge_is_given_to_its_piece(data, swatch):
    desk, form = swatch
    desk.change(gauge=Gauge(21, 29))
    assert "21 stitches" in said(form)
    press(form, "Give its piece this gauge")
    assert open_project(data / "my-harbour-cushion").gauge == Gauge(21, 29)


@pytest.mark.parametrize("name", ["gone", "../harbour-cushion", "..", "/etc"])
def test_a_piece_that_is_not_there_is_said(data, swatch, name):
    desk, form = swatch
    desk.change(swatch_of=name)
    measuring = measure_form(desk)
    log(fill(measuring, MARKED, **TYPED[MARKED]))
    assert f"It is not logged in {name}: The piece of this swatch, {name}," in said(measuring)
    assert len(desk.project.measurements) == 4
    assert "is not beside it any more" in said(form)


def test_of_a_piece_that_is_no_swatch_nothing_is_asked(demo_copy):
    desk = Desk(open_project(demo_copy))
    assert box(measure_form(desk), "also log it").layout.display == "none"
    kept(desk.project, gauge=Gauge(21, 29))
    assert "swatch_of" not in (demo_copy / "piece.toml").read_text()


def test_the_basket(desk):
    """Of the demo: four balls begun that do, and a whole one to buy, for the night takes two."""
    words = basket_html(desk.plan, step=1, wool=True)
    assert "N Midnight: 0 of 0 scraps, 1 whole ball in hand; to buy: 1 ball." in words
    assert "0.6 of a ball" in words


def test_a_swatch_that_is_nearly_the_piece_says_so_and_is_shown_in_its_chart():
    """Thirty of forty stitches are three quarters; nine of forty squared hardly anything."""
    plan = small(rows=["A" * 20 + "B" * 20] * 30).plan
    large, little = (find_window(plan.traced, stitches=side, rows=side) for side in (30, 9))
    assert "It is 75 % of the whole chart" in window_html(plan, large)
    assert "of the whole chart" not in window_html(plan, little)
    shown = where_it_lies(plan, little)
    assert "<img" in shown
    assert html.escape(f"The swatch in the chart: {little.place(plan.traced.chart)}") in shown
