"""Desks on one folder: nothing lost, nothing stale, and the demo stays as it is."""

import asyncio
import errno
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, settings

import planner.workbook.desk as desks
from planner import Chart, Gauge, PlanError, make_plan, open_project
from planner.folder import read_progress, see, versions
from planner.piece import Yarn
from planner.workbook import (
    Desk,
    gauge_form,
    news_form,
    open_desk,
    place_form,
    row_form,
    units_form,
    versions_form,
)
from tests.helpers.faults import no_writing_in, state_of
from tests.helpers.folders import kept, write
from tests.helpers.forms import box, press, said
from tests.helpers.two_views import TwoDesks
from tests.helpers.writers import base_piece

TestTwoDesks = TwoDesks.TestCase
TestTwoDesks.settings = settings(
    max_examples=4,
    stateful_step_count=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture
def folder(tmp_path):
    return base_piece(tmp_path / "piece")


def two(folder):
    return Desk(see(folder)), Desk(see(folder))


# Never stale


def test_what_changed_elsewhere_is_taken_up_shown_and_said(folder):
    desk, other = two(folder)
    form, news = gauge_form(desk), news_form(desk)
    assert not desk.look()
    other.change(gauge=Gauge(24, 28))
    other.change(yarns={**other.project.yarns, "C": Yarn("C", "Moss")})
    assert desk.look()
    assert box(form, "stitches").value == 24
    assert desk.plan.project == desk.project == open_project(folder)
    assert "Changed in another notebook, or in the folder: the gauge; the yarns." in said(news)


def test_an_action_takes_it_up_first_and_says_so(folder):
    desk, other = two(folder)
    form, news = gauge_form(desk), news_form(desk)
    other.change(units="in")
    box(form, "rows").value = 30
    assert open_project(folder).units == desk.project.units == "in"
    assert open_project(folder).gauge == desk.project.gauge
    assert desk.project.gauge.rows == 30
    assert "the units" in said(news)
    box(form, "rows").value = 31
    assert "the units" not in said(news)  # it was said


def test_a_refused_action_shows_what_it_has_taken_up(folder):
    desk, other = two(folder)
    form = gauge_form(desk)
    other.change(gauge=Gauge(24, 28))
    box(form, "rows").value = -1
    assert "more than 0" in said(form)
    assert desk.project.gauge.rows == 28
    desk.look()
    assert box(form, "stitches").value == 24


def test_other_units_leave_a_length_that_was_chosen_elsewhere(folder):
    """A tail of 12 cm is none of the usual ones, though this desk still shows 15."""
    desk, other = two(folder)
    form = units_form(desk)
    other.change(allow=replace(other.project.allow, tail_cm=12))
    box(form, "show").value = "in"
    assert open_project(folder).allow.tail_cm == 12
    assert open_project(folder).allow.swatch_cm == 12.7


def test_a_row_is_not_marked_on_a_card_that_is_not_shown(folder):
    """The chart has changed meanwhile: what is noted would be another row than that was knitted."""
    desk, other = two(folder)
    form = row_form(desk)
    rows = other.project.chart.to_rows()
    rows[-2] = ["B"] * 8
    other.change(chart=Chart.from_rows(rows))
    press(form, "Row worked")
    assert "Look at the card again before you mark a row" in said(form)
    assert len(read_progress(folder)) == 1
    assert "8 B Sea" in " ".join(said(form).split())
    press(form, "Row worked")
    assert read_progress(folder)[-1].runs.startswith("8 B")


def test_a_row_is_not_marked_if_the_piece_changes_at_that_moment(folder, monkeypatch):
    """Between looking and writing, which takes a moment, another notebook changes the chart."""
    desk, other = two(folder)
    real = desks.change_piece

    def late(*arguments, **names):
        monkeypatch.setattr(desks, "change_piece", real)
        other.change(gauge=Gauge(24, 28))
        return real(*arguments, **names)

    monkeypatch.setattr(desks, "change_piece", late)
    form = row_form(desk)
    press(form, "Row worked")
    assert "Look at the card again" in said(form)
    assert len(read_progress(folder)) == 1


def test_a_resized_chart_is_not_laid_over_another(folder):
    desk, other = two(folder)
    form = place_form(desk)
    rows = other.project.chart.to_rows()
    rows[0][0] = "B" if rows[0][0] == "A" else "A"
    other.change(chart=Chart.from_rows(rows))
    box(form, "the chart is to be").value = "set into a larger piece"
    box(form, "stitches of").value, box(form, "rows of").value = 8, 9
    box(form, "and at the").value = "bottom"
    press(form, "Do it")
    assert "changed elsewhere" in said(form)
    assert open_project(folder).chart == other.project.chart == desk.project.chart
    press(form, "Do it")
    assert open_project(folder).chart.rows == 9
    assert versions(folder)[0].before == "making the chart set into a larger piece"


def test_the_watch_takes_up_within_two_seconds(folder, monkeypatch):
    """A notebook that is run again has a new desk; the one before may be seen in a second tab."""
    monkeypatch.setattr(desks, "LOOK_EVERY_S", 0.01)
    assert desks.LOOK_EVERY_S < 2

    async def in_a_kernel():
        first, second, desk = *two(folder), Desk(see(folder))
        for each in (first, second, desk):
            each.watch()
        await asyncio.sleep(0)
        kept(desk.project, units="in")
        for _ in range(500):
            if desk.project.units == "in":
                break
            await asyncio.sleep(0.01)
        watching = [each._looking is not None for each in (first, second, desk)]
        second._stop_looking()
        desk._stop_looking()
        return desk.project.units, watching

    # In a thread of its own: beside a browser this one has a loop already.
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(asyncio.run, in_a_kernel()).result() == ("in", [False, True, True])


def test_the_watch_tries_a_piece_that_cannot_be_shown_once(folder, monkeypatch):
    desk, tries = Desk(see(folder)), []

    def failing(_):
        tries.append(1)
        raise ZeroDivisionError("nobody foresaw this")

    (folder / "yarns.csv").write_text("letter\nA\n")
    monkeypatch.setattr(desks, "open_anyway", failing)
    for _ in range(3):
        desk._look_quietly()
    assert len(tries) == 1
    assert "nobody foresaw this" in (folder / "trouble.log").read_text()
    monkeypatch.undo()
    (folder / "yarns.csv").write_text("letter\nA\nB\n")
    desk._look_quietly()
    assert set(desk.project.yarns) == {"A", "B"}


def test_two_threads_at_one_desk_and_two_desks_in_one_process(folder):
    """JupyterLab may answer widgets on a second thread; each change is there, once."""
    here, there = two(folder)

    def change(number):
        desk = (here, there)[number % 2]
        letter = "CDEFGHIJKLMNOPQ"[number]
        desk.act(lambda held: replace(held, yarns={**held.yarns, letter: Yarn(letter)}))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(change, range(12)))
    assert set(open_project(folder).yarns) == {"A", "B", *"CDEFGHIJKLMN"}
    for desk in (here, there):
        desk.look()
        assert desk.project == desk.plan.project == open_project(folder)


def test_a_read_only_piece_opens_and_says_so_when_it_is_changed(folder):
    before = state_of(folder)
    with no_writing_in(folder, errno.EROFS):
        desk = open_desk(str(folder))
        form, rows = gauge_form(desk), row_form(desk)
        box(form, "stitches").value = 30
        assert "the folder is read-only. Copy the piece to a place" in said(form)
        assert box(form, "stitches").value == 20
        press(rows, "Row worked")
        assert "the folder is read-only" in said(rows)
    assert state_of(folder) == before
    box(form, "stitches").value = 30
    assert open_project(folder).gauge.stitches == 30


# Earlier versions


def test_back_to_an_earlier_version_and_forth(folder):
    desk = Desk(see(folder))
    form, gauge = versions_form(desk), gauge_form(desk)
    first = box(form, "earlier versions").options
    box(gauge, "stitches").value = 30
    press(form, "Go back to this version")
    assert desk.project == open_project(folder)
    assert "back at the version of" in said(form)
    assert len(box(form, "earlier versions").options) > len(first)
    newest = versions(folder)[0]
    assert newest.before.startswith("going back to")
    desk.go_back(newest)
    assert desk.project.gauge.stitches == 30


def test_a_version_that_contradicts_what_is_knitted_is_refused_in_words(folder):
    desk = Desk(see(folder))
    version = versions(folder)[-1]
    rows = desk.project.chart.to_rows()
    rows[-1] = ["B"] * 8
    with pytest.raises(PlanError, match="worked and stay as they are"):
        desk.change(chart=Chart.from_rows(rows))
    before = state_of(folder)
    (folder / "progress.csv").write_bytes(before["progress.csv"].replace(b"7 A1", b"8 A1"))
    assert desk.look()
    assert desk.troubles
    with pytest.raises(PlanError, match="First one of the ways out"):
        desk.go_back(version)


# The demo


def test_the_demo_is_changed_in_a_copy(data):
    demo, copy = data / "harbour-cushion", data / "my-harbour-cushion"
    before = state_of(demo)
    desk = open_desk("harbour-cushion")
    news, form = news_form(desk), gauge_form(desk)
    assert not copy.exists()
    box(form, "stitches").value = 21
    assert state_of(demo) == before
    assert desk.project.folder == copy
    assert open_project(copy).gauge.stitches == 21
    assert "this is a copy of it now" in said(news)
    assert '"Harbour cushion" in data/my-harbour-cushion' in said(news)
    # It is there still when the next change is made.
    box(form, "stitches").value = 22
    assert "in data/my-harbour-cushion" in said(news)
    assert "the example stays as it is" in said(news)
    box(form, "stitches").value = 21
    assert open_desk("harbour-cushion").project == desk.project
    assert [path.name for path in data.iterdir() if path.name.endswith(".part")] == []


def test_tests_and_refresh_open_the_demo_itself(data, monkeypatch):
    box(gauge_form(open_desk("harbour-cushion")), "stitches").value = 21
    monkeypatch.setenv("PLANNER_DEMO", "1")
    assert open_desk("harbour-cushion").project.gauge.stitches == 20


def test_a_refused_change_of_the_demo_shows_the_copy(data):
    """A desk that still shows the demo, while a copy of it was changed in another notebook."""
    desk, other = open_desk("harbour-cushion"), open_desk("harbour-cushion")
    form, units = gauge_form(desk), units_form(desk)
    other.change(units="in", name="Mine")
    box(form, "rows").value = -1  # refused before anything is looked at
    box(units, "show").value = "in"
    assert desk.project.name == desk.plan.project.name == "Mine"
    assert open_project(data / "my-harbour-cushion") == desk.project


def test_two_notebooks_leave_the_demo_at_once(data):
    here, there = open_desk("harbour-cushion"), open_desk("harbour-cushion")
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda desk: desk.act(lambda held: replace(held, units="in")), (here, there)))
    here.change(name="Mine")
    there.change(gauge=Gauge(21, 28))
    piece = open_project(data / "my-harbour-cushion")
    assert (piece.name, piece.units, piece.gauge.stitches) == ("Mine", "in", 21)


def test_a_half_made_copy_is_made_again(data):
    unfinished = data / "my-harbour-cushion.part"
    unfinished.mkdir()
    (unfinished / "chart.csv").write_text("A\n")
    desk = open_desk("harbour-cushion")
    desk.change(name="Mine")
    assert open_project(data / "my-harbour-cushion").chart.rows == 96
    assert not unfinished.exists()


def test_a_demo_that_cannot_be_copied_says_why(data, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copytree", full)
    desk = open_desk("harbour-cushion")
    form, before = gauge_form(desk), state_of(data)
    box(form, "stitches").value = 21
    assert "Could not write my-harbour-cushion: the disk is full" in said(form)
    assert box(form, "stitches").value == 20
    assert state_of(data) == before


def test_a_piece_opens_as_it_is_planned(tmp_path):
    folder = write(tmp_path)
    assert open_desk(str(folder)).plan.summary() == make_plan(open_project(folder)).summary()
