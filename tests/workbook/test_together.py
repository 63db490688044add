"""The piece with others: what its fold says, what is ticked and counted, and what is made anew."""

import shutil
import zipfile
from dataclasses import replace

import pytest

import planner.workbook.desk as desks
import planner.workbook.waiting as waiting
from planner import Gauge
from planner.folder import SET, PieceSet, SetPiece, read_set
from planner.workbook import Fold, Piece, open_desk
from planner.workbook.together import (
    new_set,
    with_counts,
    with_piece,
    without_piece,
)
from tests.helpers.folders import contents
from tests.helpers.forms import box, boxes, by_label, option, press, said, work_rows

NONE_YET = "With other pieces: none yet"


@pytest.fixture
def sleeve(data):
    """A sleeve beside the demo: the same chart, its rust in other balls."""
    return beside(data, "sleeve", "Sleeve", "R,Rust,#b5452c,85")


def beside(data, folder, name, rust="R,Rust,#b5452c,100"):
    """Another piece beside the demo."""
    made = data / folder
    shutil.copytree(data / "harbour-cushion", made)
    settings = made / "piece.toml"
    settings.write_text(settings.read_text().replace("Harbour cushion", name))
    yarns = made / "yarns.csv"
    yarns.write_text(yarns.read_text().replace("R,Rust,#b5452c,100", rust))
    return made


@pytest.fixture
def made(monkeypatch):
    """The names of the pieces that are planned for the fold, each time that one is."""
    names = []
    plan = waiting.plan_or_stop

    def counted(project):
        names.append(project.name)
        return plan(project)

    monkeypatch.setattr("planner.workbook.together.plan_or_stop", counted)
    return names


def opened(desk) -> Fold:
    fold = Piece(desk).with_other_pieces()
    fold.heading.click()
    return fold


def heading(fold) -> str:
    return fold.heading.description


# ---- opening


def test_opening_makes_nothing_and_plans_nothing_else(data, sleeve, made):
    desk = open_desk("harbour-cushion")
    before = contents(data)
    fold = Piece(desk).with_other_pieces()
    assert heading(fold) == NONE_YET
    assert made == []
    fold.heading.click()
    assert heading(fold) == NONE_YET
    assert contents(data) == before
    assert not (data / SET).exists()
    assert made == []
    titles = [label for label in by_label(fold) if "72 × 96" in label]
    assert titles == ["Harbour cushion · 72 × 96", "Sleeve · 72 × 96"]


def test_a_set_is_told_before_its_pieces_are_planned(data, sleeve, made):
    (data / SET).write_text(
        'name = "Harbour set"\n[[piece]]\nfolder = "harbour-cushion"\n'
        '[[piece]]\nfolder = "sleeve"\ntimes = 2\n'
    )
    fold = Piece(open_desk("harbour-cushion")).with_other_pieces()
    assert heading(fold) == "With other pieces: Harbour set, 3 pieces"
    assert made == []
    fold.heading.click()
    assert made == ["Sleeve"]
    told = "With other pieces: Harbour set, 3 pieces, 6 balls to buy; Rust: not known"
    assert heading(fold) == f"{told}, 1 question to answer"


# ---- ticked, counted, answered


def test_pieces_are_ticked_counted_and_asked_about(data, sleeve):
    fold = opened(open_desk("harbour-cushion"))
    box(fold, "Sleeve · 72").value = True
    assert read_set(data).pieces == (SetPiece("harbour-cushion"), SetPiece("sleeve"))
    assert "Harbour cushion set, 2 pieces" in heading(fold)
    box(fold, "Sleeve, times").value = 2
    assert read_set(data).pieces[1] == SetPiece("sleeve", 2)
    assert "Rust: 100 m a ball in Harbour cushion, 85 m a ball in Sleeve." in said(fold)
    assert "Not counted before the questions are answered: Rust" in said(fold)
    asked = box(fold, "are these")
    asked.value = option(asked, "as Sleeve has it")
    (answer,) = read_set(data).answers
    assert (answer.of, answer.piece) == ("rust", "sleeve")
    assert "Not counted" not in said(fold)
    assert heading(fold) == "With other pieces: Harbour cushion set, 3 pieces, 7 balls to buy"
    # What was answered can be asked again.
    press(fold, "Ask again about rust")
    assert read_set(data).answers == ()
    assert "1 question to answer" in heading(fold)


def test_the_set_has_a_name(data, sleeve):
    fold = opened(open_desk("harbour-cushion"))
    box(fold, "Sleeve · 72").value = True
    box(fold, "name of the set").value = "  Winter "
    assert read_set(data).name == "Winter"
    assert heading(fold).startswith("With other pieces: Winter, 2 pieces")


def test_what_cannot_be_is_refused_and_the_box_falls_back(data, sleeve):
    fold = opened(open_desk("harbour-cushion"))
    box(fold, "Sleeve · 72").value = True
    before = read_set(data)
    box(fold, "of these mirrored", 1).value = 2
    assert "mirrored is 2; it must be 0 or more, and at most 1" in said(fold)
    assert read_set(data) == before
    assert box(fold, "of these mirrored", 1).value == 0


def test_a_set_is_dissolved(data, sleeve):
    """Unticked down to one piece it is no set any more; its file is in the history, whole."""
    fold = opened(open_desk("harbour-cushion"))
    box(fold, "Sleeve · 72").value = True
    text = (data / SET).read_text()
    box(fold, "Sleeve · 72").value = False
    assert heading(fold) == NONE_YET
    assert "The set is dissolved" in said(fold)
    assert "To buy for all of them" not in said(fold)
    assert not (data / SET).exists()
    assert not box(fold, "Harbour cushion · 72").value
    *_, version = sorted((data / "history").iterdir())
    with zipfile.ZipFile(version) as packed:
        assert packed.read(SET).decode() == text
    # One is begun anew as the first was.
    box(fold, "Sleeve · 72").value = True
    assert read_set(data).pieces == (SetPiece("harbour-cushion"), SetPiece("sleeve"))
    assert "dissolved" not in said(fold)
    # Two of one piece are a set; the last of them is taken out as any other.
    box(fold, "Harbour cushion, times").value = 2
    box(fold, "Sleeve · 72").value = False
    assert read_set(data).pieces == (SetPiece("harbour-cushion", 2),)
    box(fold, "Harbour cushion · 72").value = False
    assert read_set(data) is None


def test_sets_are_plain_values():
    one = PieceSet("x", (SetPiece("back"),))
    two = with_piece(one, "sleeve")
    assert [piece.folder for piece in two.pieces] == ["back", "sleeve"]
    assert with_piece(two, "sleeve") == two
    assert with_counts(two, "sleeve", times=3).pieces[1].times == 3
    assert without_piece(with_counts(two, "sleeve", times=2), "back").pieces == (
        SetPiece("sleeve", 2),
    )
    assert without_piece(two, "back") is None
    assert without_piece(one, "back") is None


def test_boxes_stay_where_they_are(data, sleeve):
    """Another box in the place of the one that was touched would take the keyboard away from it."""
    fold = opened(open_desk("harbour-cushion"))
    tick = box(fold, "Sleeve · 72")
    tick.value = True
    assert box(fold, "Sleeve · 72") is tick
    times = box(fold, "Sleeve, times")
    times.value = 2
    times.value = 3
    assert box(fold, "Sleeve, times") is times
    assert read_set(data).pieces[1].times == 3


# ---- what is made anew


def test_other_pieces_are_planned_once(data, sleeve, made):
    desk = open_desk("harbour-cushion")
    fold = opened(desk)
    box(fold, "Sleeve · 72").value = True
    assert made == ["Sleeve"]
    box(fold, "Sleeve, times").value = 2
    box(fold, "name of the set").value = "Winter"
    fold.heading.click()
    fold.heading.click()
    assert made == ["Sleeve"]
    # Mirrored ones are plans of their own, made once.
    box(fold, "of these mirrored", 1).value = 1
    assert made == ["Sleeve", "Sleeve, mirrored"]
    box(fold, "of these mirrored", 1).value = 0
    box(fold, "of these mirrored", 1).value = 1
    assert made == ["Sleeve", "Sleeve, mirrored"]


def test_a_change_of_this_piece_changes_the_lists_but_plans_no_other(
    data, sleeve, made, monkeypatch
):
    monkeypatch.setenv("PLANNER_DEMO", "1")
    desk = open_desk("sleeve")
    fold = opened(desk)
    box(fold, "Harbour cushion · 72").value = True
    before, told = said(fold), list(made)
    desk.change(gauge=Gauge(16, 24))
    assert said(fold) != before
    assert made == told == ["Harbour cushion"]


def test_a_change_of_another_piece_is_taken_up(data, sleeve, made):
    desk = open_desk("harbour-cushion")
    fold = opened(desk)
    box(fold, "Sleeve · 72").value = True
    chart = (sleeve / "chart.csv").read_text()
    (sleeve / "chart.csv").write_text(chart.replace("N", "T"))
    box(fold, "name of the set").value = "Winter"
    assert made == ["Sleeve", "Sleeve"]


def test_rows_that_are_worked_are_told_and_used(data, sleeve):
    desk = open_desk("sleeve")
    fold = opened(desk)
    box(fold, "Harbour cushion · 72").value = True
    box(fold, "Sleeve, times").value = 2
    assert "Sleeve: not begun" in said(fold)
    assert "Used so far" not in said(fold)
    work_rows(desk, 12)
    assert "Sleeve: row 12 of 96 worked" in said(fold)
    assert "Used so far" in said(fold)
    assert "What to wind for Sleeve 1" in said(fold)
    box(fold, "finished", 0).value = 1
    assert "Sleeve: 1 of 2 finished, row 12 of 96 worked" in said(fold)
    assert "What to wind for Sleeve 2" in said(fold)
    box(fold, "finished", 0).value = 2
    assert "Every one of this piece is finished." in said(fold)


# ---- another piece on the desk, and pieces that are not there


def test_another_piece_on_the_desk(data, sleeve):
    other = beside(data, "cowl", "Cowl")
    desk = open_desk("harbour-cushion")
    fold = opened(desk)
    box(fold, "Sleeve · 72").value = True
    desk.go_to(sleeve)
    assert "What to wind for Sleeve" in said(fold)
    assert "not among them" not in heading(fold)
    desk.go_to(other)
    assert heading(fold).endswith("this one is not among them")
    assert "Tick it to count it in." in said(fold)
    box(fold, "Cowl · 72").value = True
    assert "not among them" not in heading(fold)
    assert "What to wind for Cowl" in said(fold)


def test_the_copy_of_the_demo_takes_its_place(data, sleeve):
    desk = open_desk("harbour-cushion")
    fold = opened(desk)
    box(fold, "Sleeve · 72").value = True
    # The first change of the demo goes into a copy, from then on.
    desk.change(gauge=Gauge(21, 28))
    assert desk.project.folder.name == desks.COPY
    assert "not among them" not in heading(fold)
    box(fold, "Harbour cushion, times").value = 2
    assert read_set(data).pieces[0] == SetPiece(desks.COPY, 2)


def test_a_piece_that_is_gone_can_be_taken_out(data, sleeve):
    fold = opened(open_desk("harbour-cushion"))
    box(fold, "Sleeve · 72").value = True
    shutil.rmtree(sleeve)
    fold = opened(open_desk("harbour-cushion"))
    assert heading(fold) == "With other pieces: set.toml has to be looked at"
    assert "names the piece sleeve, but there is none" in said(fold)
    box(fold, "sleeve · not there any more").value = False
    assert read_set(data) is None
    assert heading(fold) == NONE_YET


def test_a_piece_that_cannot_be_planned_is_named(data, sleeve):
    fold = opened(open_desk("harbour-cushion"))
    (sleeve / "chart.csv").write_text('"A\n')
    box(fold, "Sleeve").value = True
    assert "The piece sleeve cannot be planned" in said(fold)


def test_a_file_that_cannot_be_read_is_put_aside(data, sleeve):
    (data / SET).write_text("[[piece\n")
    fold = opened(open_desk("harbour-cushion"))
    assert "cannot be read" in said(fold)
    box(fold, "Sleeve · 72").value = True
    assert (data / SET).read_text() == "[[piece\n"
    assert not box(fold, "Sleeve · 72").value
    press(fold, "Put set.toml aside and begin anew")
    assert read_set(data) == new_set(open_desk("harbour-cushion"))
    (aside,) = (data / "history").iterdir()
    assert aside.read_text() == "[[piece\n"


def test_a_piece_without_a_folder(data):
    desk = desks.Desk(replace(open_desk("harbour-cushion").project, folder=None))
    fold = opened(desk)
    assert heading(fold) == NONE_YET
    assert boxes(fold)


def test_a_set_in_yards(data, sleeve):
    desk = open_desk("sleeve")
    desk.change(units="in")
    fold = opened(desk)
    box(fold, "Harbour cushion · 72").value = True
    words = said(fold)
    assert "(m)" not in words
    assert "(yd)" in words
