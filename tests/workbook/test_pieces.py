"""The menu of pieces: what it lists, what is remembered, and another piece on the same desk."""

import asyncio
import inspect
import shutil
from concurrent.futures import ThreadPoolExecutor

import pytest

import planner.workbook.desk as desks
from planner import Chart, PlanError, open_project
from planner.folder import choose_piece, chosen_piece, see
from planner.pictures import draw_strands
from planner.workbook import (
    Desk,
    Fold,
    Menu,
    Piece,
    gauge_form,
    new_piece_form,
    open_chosen,
    open_desk,
    open_piece,
)
from tests.conftest import ROOT
from tests.helpers.folders import kept, write
from tests.helpers.forms import box, boxes, by_label, option, press, said

PIECES = ROOT / "tests" / "cases" / "pieces"
CALLS = [name for name, _ in inspect.getmembers(Piece, inspect.isfunction) if name[0] != "_"]


@pytest.fixture
def scarf(data):
    """A small piece beside the demo."""
    folder = data / "scarf"
    folder.mkdir()
    return write(folder)


def listed(menu) -> list[str]:
    return [title for title, _ in box(menu, "piece").options]


def shown(menu) -> str:
    """The title of the piece that the menu says is open."""
    return box(menu, "piece").label


# What is listed


def test_pieces_are_listed_by_name_and_size(data, scarf):
    menu = Menu(open_desk("scarf"))
    assert listed(menu) == ["Harbour cushion · 72 × 96", "Scarf · 3 × 2"]
    assert shown(menu) == "Scarf · 3 × 2"


def test_pieces_of_one_name_are_told_apart_and_a_broken_one_is_named(data, scarf):
    shutil.copytree(scarf, data / "gift")
    (data / "torn").mkdir()
    (data / "torn" / "chart.csv").write_text('"A,B\n')
    (data / "no-piece").mkdir()
    (data / "half-made.part").mkdir()
    (data / "half-made.part" / "chart.csv").write_text("A\n")
    assert listed(Menu(open_desk("scarf"))) == [
        "Scarf · 3 × 2 · gift",
        "Harbour cushion · 72 × 96",
        "Scarf · 3 × 2 · scarf",
        "torn · cannot be read",
    ]


def test_who_has_a_copy_of_the_demo_goes_on_with_it(data, scarf):
    menu = Menu(open_desk("harbour-cushion"))
    form = gauge_form(open_desk("harbour-cushion"))
    box(form, "stitches").value = 21
    assert sorted(path.name for path in data.iterdir() if path.is_dir()) == [
        "harbour-cushion",
        "my-harbour-cushion",
        "scarf",
    ]
    assert len(listed(Menu(open_desk("scarf")))) == 2
    # The menu from before still names the demo itself; chosen there, it is the copy.
    box(menu, "piece").value = option(box(menu, "piece"), "Scarf")
    assert [value for _, value in box(menu, "piece").options] == ["my-harbour-cushion", "scarf"]


def test_a_piece_from_elsewhere_is_listed_while_it_is_open(data, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    menu = Menu(open_desk(str(write(elsewhere))))
    assert shown(menu) == "Scarf · 3 × 2"
    box(menu, "piece").value = "harbour-cushion"
    assert listed(menu) == ["Harbour cushion · 72 × 96"]


# What is remembered


def test_the_piece_chosen_is_opened_by_all_notebooks(data, scarf, capsys):
    piece = open_piece()
    assert piece.desk.project.name == "Harbour cushion"
    menu = Menu(piece.desk)
    box(menu, "piece").value = "scarf"
    assert piece.desk.project.name == "Scarf"
    assert chosen_piece(data) == "scarf"
    assert open_piece().desk.project.name == "Scarf"
    assert open_piece("harbour-cushion").desk.project.name == "Harbour cushion"
    assert open_piece().desk.project.name == "Scarf"


def test_tests_and_refresh_open_the_demo_whatever_is_remembered(data, scarf, monkeypatch):
    choose_piece(data, "scarf")
    monkeypatch.setenv("PLANNER_DEMO", "1")
    desk, _ = open_chosen()
    assert desk.project.folder == data / "harbour-cushion"
    assert not desk.follows_choice


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (shutil.rmtree, "The piece opened last, data/scarf, is not there any more."),
        (
            lambda folder: (folder / "chart.csv").write_text('"A\n'),
            "The piece opened last, data/scarf, cannot be opened. chart.csv",
        ),
    ],
)
def test_a_piece_that_is_gone_or_broken_leads_to_another_with_words(data, scarf, spoil, words):
    choose_piece(data, "scarf")
    spoil(scarf)
    desk, said_first = open_chosen()
    assert desk.project.name == "Harbour cushion"
    assert words in said(Menu(desk, said_first))
    # Also without the demo, and in words where there is nothing.
    shutil.rmtree(data / "harbour-cushion")
    (data / "cowl").mkdir()
    write(data / "cowl")
    assert open_chosen()[0].project.folder == data / "cowl"
    shutil.rmtree(data / "cowl")
    with pytest.raises(PlanError, match="The piece opened last"):
        open_chosen()


@pytest.mark.parametrize("text", [b"", b"../piece\n", b"/etc\n", b"\xff\xfe\x00", b"x" * 5000])
def test_what_is_remembered_names_a_folder_in_data_and_nothing_else(data, text):
    (data / ".chosen-piece").write_bytes(text)
    assert chosen_piece(data) == ""
    assert open_chosen()[0].project.name == "Harbour cushion"


def test_a_piece_that_cannot_be_opened_leaves_the_one_that_is(data, scarf):
    menu = Menu(open_desk("harbour-cushion"))
    (scarf / "chart.csv").write_text('"A\n')
    box(menu, "piece").value = "scarf"
    assert "chart.csv" in said(menu)
    assert shown(menu) == "Harbour cushion · 72 × 96"
    assert chosen_piece(data) == ""


def test_other_notebooks_follow_within_two_seconds(data, scarf, monkeypatch):
    monkeypatch.setattr(desks, "LOOK_EVERY_S", 0.01)

    async def in_a_kernel():
        (here, _), (there, _) = open_chosen(), open_chosen()
        named = open_desk("harbour-cushion")
        menu = Menu(there)
        box(Menu(here), "piece").value = "scarf"
        for _ in range(500):
            await asyncio.sleep(0.01)
            if there.project.name == "Scarf":
                break
        for desk in (here, there, named):
            desk._stop_looking()
        return there, menu, named

    # In a thread of its own: beside a browser this one has a loop already.
    with ThreadPoolExecutor(1) as thread:
        there, menu, named = thread.submit(asyncio.run, in_a_kernel()).result()
    assert there.plan.project.name == "Scarf"
    assert shown(menu) == "Scarf · 3 × 2"
    assert "opened in another notebook" in said(menu)
    # What was opened by its name stays.
    assert named.project.name == "Harbour cushion"


def test_the_demo_left_in_one_notebook_is_left_in_all(data):
    (here, _), (there, _) = open_chosen(), open_chosen()
    box(gauge_form(here), "stitches").value = 21
    there._look_quietly()
    assert there.project.folder == here.project.folder == data / "my-harbour-cushion"


# A new piece


def test_a_new_piece_has_a_folder_that_opens(data):
    menu = Menu(open_desk("harbour-cushion"))
    press(menu, "New piece, or another name")
    field = by_label(menu)
    field["name of the piece"].value = "Hill scarf, 2nd!"
    field["stitches"].value, field["rows (garter: ridges)"].value = 7, 5
    field["letter of its ground"].value, field["colour of it"].value = "G", "#335577"
    press(menu, "Make the piece")
    assert "hill-scarf-2nd is made, and open in all notebooks" in said(menu)
    assert not boxes(menu, Fold)[0].is_open
    assert shown(menu) == "Hill scarf, 2nd! · 7 × 5"
    assert chosen_piece(data) == "hill-scarf-2nd"
    piece = open_project(data / "hill-scarf-2nd")
    assert piece.name == "Hill scarf, 2nd!"
    assert piece.chart == Chart.from_rows(["GGGGGGG"] * 5)
    assert piece.yarns["G"].colour == "#335577"
    press(menu, "Make the piece")
    assert "There is a piece hill-scarf-2nd already" in said(menu)


@pytest.mark.parametrize(
    ("name", "stitches", "letter", "words"),
    [
        ("", 7, "G", "has no name yet"),
        ("..", 7, "G", "has no name yet"),
        ("a", 0, "G", "give 1 to 1,000 stitches"),
        ("a", 7, "7", "not a yarn letter"),
        ("../up", 7, "G", "up is made"),
    ],
)
def test_a_new_piece_that_cannot_be(data, name, stitches, letter, words):
    desk, made = open_desk("harbour-cushion"), []
    form, news = new_piece_form(desk, made=lambda: made.append(1)), Menu(desk)
    field = by_label(form)
    field["name of the piece"].value, field["stitches"].value = name, stitches
    field["letter of its ground"].value = letter
    press(form, "Make the piece")
    assert words in said(form) + said(news)
    assert bool(made) == ("is made" in words)
    assert [path.name for path in data.parent.iterdir()] == ["data"]  # nothing outside of it


# Another piece on the same desk


def state(widget, place: str = "") -> dict[str, object]:
    """All that the browser is told of a widget and of those in it, but who they are.

    Nor how many pieces were painted on before, which the page counts.
    """
    found: dict[str, object] = {}
    for name, value in widget.get_state().items():
        if name in ("children", "layout", "style", "sitting") or name.startswith(
            ("_esm", "_anywidget")
        ):
            continue
        is_bytes = isinstance(value, bytes | bytearray | memoryview)
        found[f"{place}.{name}"] = bytes(value) if is_bytes else value
    found[f"{place} is hidden"] = widget.layout.display == "none"
    for number, child in enumerate(getattr(widget, "children", ())):
        found |= state(child, f"{place}/{number} {type(child).__name__}")
    return found


def unfolded(widget):
    """A widget with all its folds open, those in folds as well."""
    shut = [each for each in boxes(widget, Fold) if not each.is_open]
    for each in shut:
        each.heading.click()
    return unfolded(widget) if shut else widget


def assert_as_new(shown_now, fresh):
    now, new = state(shown_now), state(fresh)
    assert [place for place in now.keys() | new.keys() if now.get(place) != new.get(place)] == []


@pytest.fixture
def two_pieces(tmp_path, demo_copy):
    """The demo, and a cowl that is another in all: yarns, size, way of working, and units."""
    cowl = shutil.copytree(PIECES / "cowl", tmp_path / "cowl")
    kept(open_project(cowl), units="in")
    return demo_copy, cowl


def panes(desk):
    """A pane of each kind."""
    return [
        desk.pane(lambda plan: plan.summary()),
        desk.words(lambda plan: repr(plan)),
        desk.table(lambda plan: plan.winding_list),
        desk.picture(draw_strands),
    ]


def test_every_pane_shows_the_other_piece_and_this_one_again(two_pieces):
    desk = Desk(see(two_pieces[0]))
    watched, arrivals = panes(desk), []
    desk.on_arrival(lambda: arrivals.append(desk.project.name))
    before = [pane.value for pane in watched]
    for folder in reversed(two_pieces):
        desk.go_to(folder)
        fresh = Desk(see(folder))
        assert repr(desk.plan) == repr(fresh.plan)
        for pane, new in zip(watched, panes(fresh), strict=True):
            assert_as_new(pane, new)
    assert [pane.value for pane in watched] == before
    assert arrivals == ["Cowl in rounds", "Harbour cushion"]


@pytest.mark.parametrize("call", CALLS)
def test_every_cell_shows_the_other_piece(two_pieces, call):
    """As it would be if that had been opened at once, with all its folds open."""
    first, other = two_pieces
    desk = Desk(see(first))
    widget = unfolded(getattr(Piece(desk), call)())
    for folder in (other, first):
        desk.go_to(folder)
        assert_as_new(widget, unfolded(getattr(Piece(Desk(see(folder))), call)()))


def test_what_cannot_be_shown_leaves_the_desk_as_it_was(two_pieces):
    first, other = two_pieces
    desk = Desk(see(first))
    before = panes(desk)[0].value
    shutil.rmtree(other / "history")  # there are no earlier charts to fall back on
    (other / "chart.csv").write_text('"A\n')
    with pytest.raises(PlanError, match=r"chart\.csv"):
        desk.go_to(other)
    assert desk.project.folder == first
    assert panes(desk)[0].value == before


def test_a_change_after_going_is_kept_in_the_other_piece(two_pieces):
    first, other = two_pieces
    desk = Desk(see(first))
    form = gauge_form(desk)
    desk.go_to(other)
    box(form, "stitches").value = 31
    assert open_project(other).gauge.stitches == 31
    assert open_project(first).gauge.stitches == 20
