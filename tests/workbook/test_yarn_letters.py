"""Another letter for a yarn, a yarn taken away, another name for a piece."""

import pytest

from planner import CarryLimits, Chart, PlanError, Project, Yarn, make_plan, open_project
from planner.piece import Allowances, Entry, OwnChoice
from planner.workbook.desk import Desk
from planner.workbook.loading import title_of_file
from planner.workbook.pieces import name_form
from planner.workbook.yarn_letters import with_letter, without_yarn
from planner.workbook.yarns import yarns_form
from tests.helpers.forms import box, said

ROWS = ["AAAAAAAA", "ABBAACCA", "AABBACCA", "AAAAAAAA"]


def piece(**more):
    yarns = {letter: Yarn(letter, name=f"wool {letter}") for letter in "ABCD"}
    return Project("scarf", Chart.from_rows(ROWS), yarns, **more)


def test_a_letter_changes_everywhere():
    """By another road: what is planned with the new letter is the old plan, word by word."""
    asked = piece(
        by_yarn={"B": CarryLimits(across=0)},
        allow=Allowances(cast_on_in="B"),
        choices=(
            OwnChoice("embroider", "C", 2, 2, "whole", "on B"),
            OwnChoice("embroider", "B", 2, 5, "whole", "refused"),
        ),
    )
    changed = with_letter(asked, "B", "Q")
    assert changed.chart.to_rows() == [list(row.replace("B", "Q")) for row in ROWS]
    assert list(changed.yarns) == ["A", "Q", "C", "D"]
    assert (changed.yarns["Q"].letter, changed.yarns["Q"].name) == ("Q", "wool B")
    assert list(changed.by_yarn) == ["Q"]
    assert changed.allow.cast_on_in == "Q"
    assert [(each.yarn, each.choice) for each in changed.choices] == [
        ("C", "on Q"),
        ("Q", "refused"),
    ]
    before, after = make_plan(asked), make_plan(changed)
    assert after.yarn_cm == pytest.approx(before.yarn_cm)
    assert (after.traced.count, after.notes) == (before.traced.count, ())
    assert with_letter(changed, "Q", "B") == asked


@pytest.mark.parametrize(
    ("new", "words"),
    [("A", "There is a yarn A already"), ("", "missing"), ("B2", "not a yarn letter")],
)
def test_a_letter_that_cannot_be(new, words):
    with pytest.raises(PlanError, match=words):
        with_letter(piece(), "B", new)


def test_a_letter_in_a_log_stays():
    worked = piece(progress=(Entry(1, "2026-03-14", "row worked", 1, stitches=8, runs="8 A1"),))
    with pytest.raises(PlanError, match=r"A keeps its letter.*progress\.csv"):
        with_letter(worked, "A", "Q")
    assert with_letter(worked, "B", "Q").chart.letters == ("A", "C", "Q")


def test_a_yarn_goes_only_where_nothing_uses_it():
    assert list(without_yarn(piece(), "D").yarns) == ["A", "B", "C"]
    on_d = OwnChoice("embroider", "C", 2, 2, "whole", "on D")
    for asked, letter, words in (
        (piece(), "B", "B has 4 stitches on the chart"),
        (piece(), "Z", "no yarn Z"),
        (piece(allow=Allowances(cast_on_in="D")), "D", "cast on in D"),
        (piece(choices=(on_d,)), "D", "choice of your own is about yarn D"),
    ):
        with pytest.raises(PlanError, match=words):
            without_yarn(asked, letter)


def test_the_form_gives_another_letter_and_takes_away(demo_copy):
    desk = Desk(open_project(demo_copy))
    desk.change(yarns={**desk.project.yarns, "X": Yarn("X", name="Spare")})
    form = yarns_form(desk)
    box(form, "yarn").value = "X"
    box(form, "its letter on the chart").value = "Z"
    box(form, "name").value = "Fern"
    box(form, "Keep this yarn").click()
    kept = open_project(demo_copy).yarns
    assert "X" not in kept
    assert kept["Z"].name == "Fern"
    box(form, "Take this yarn away").click()
    assert "Z" not in open_project(demo_copy).yarns
    assert "Fern is taken away" in said(form)
    box(form, "yarn").value = desk.project.chart.letters[0]
    before = open_project(demo_copy)
    box(form, "Take this yarn away").click()
    assert "on the chart" in said(form)
    assert open_project(demo_copy) == before


def test_a_piece_is_called_otherwise(demo_copy):
    desk = Desk(open_project(demo_copy))
    form = name_form(desk)
    box(form, "name of this piece").value = "  Sea  cushion "
    assert open_project(demo_copy).name == "Sea cushion"
    box(form, "name of this piece").value = " "
    assert "needs a name" in said(form)
    assert box(form, "name of this piece").value == "Sea cushion"


def test_a_piece_is_called_after_its_file():
    assert title_of_file("sea_fish-2.png") == "Sea fish 2"
    assert title_of_file("Élan.csv") == "Élan"
