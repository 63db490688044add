"""Notebook 6: the size, ends ticked into the log, edges and seams, on the desk of a knitter."""

import shutil
from dataclasses import replace

import pytest

from planner import PlanError, open_project
from planner.finishing import ends_left, ends_to_run
from planner.folder import APART, ONE_YARN, SET, Answer, PieceSet, SetPiece, change_set
from planner.paper import FINISHING
from planner.pictures import Spot, draw_back, png_of
from planner.piece import SEWN_IN, TAKEN_OUT
from planner.workbook import EndBoxes, Piece, finishing_form, finishing_page_form, open_desk
from planner.workbook.beside_the_card import ends_by_now
from planner.workbook.finishing import (
    areas_to_choose,
    blocking_html,
    ends_in,
    ends_title,
    left_html,
    mark_ends,
    other_pieces,
    pick_up_form,
    pick_up_title,
    seams_form,
    seams_title,
    tighten_title,
    to_finish,
)
from planner.workbook.news import changes_in_words
from planner.workbook.row_by_row import mark_rows
from planner.workbook.to_paper import ENDS_SINCE, OUTDATED
from planner.workbook.together import names_of_yarns
from tests.helpers.choices import embroider
from tests.helpers.forms import box, press, said, small, work_rows
from tests.helpers.plans import demo, plan_of


def ticked(form):
    return [each.value for each in form.boxes.children]


def test_the_first_screen_says_what_is_left():
    plan = demo()
    headline = "Block to 36 × 34.3 cm · 66 of 66 ends left to sew in · nothing to embroider"
    assert to_finish(plan) == headline
    form = finishing_form(open_desk("harbour-cushion"))
    assert headline in said(form)
    assert "by the label" in blocking_html(plan)
    assert "hang at an edge" in left_html(plan)
    embroidered = plan_of(["AAA", "ABA", "AAA"], choices=(embroider("B", 2, 2),))
    assert "1 area to embroider" in to_finish(embroidered)
    assert "embroidery B1" in left_html(embroidered)


def test_headings_say_how_things_stand():
    plan = demo()
    assert ends_title(plan) == "Sew in, area by area: 66 of 66 ends left"
    assert tighten_title(plan) == "Borders to tighten: 9 long, the longest over 24 rows"
    assert pick_up_title(plan).endswith(
        "right edge 69, left edge 69, cast-on edge 72, bind-off edge 72"
    )
    assert seams_title(plan) == "Seams: side to side, 80 of 96 rows meet their own colour"
    assert tighten_title(plan_of(["AA"])) == "Borders to tighten: no long one"


def all_knitted(folder):
    """The desk of a piece when all its rows are marked as worked."""
    desk = open_desk(str(folder))
    work_rows(desk, len(desk.plan.cards))
    return desk


def test_an_end_is_ticked_into_the_log_and_out_of_it(demo_copy):
    desk = all_knitted(demo_copy)
    form = EndBoxes(desk)
    assert ticked(form) == [False] * 4
    kept, before = form.boxes.children, desk.project
    form.boxes.children[2].value = True
    log = open_project(demo_copy).progress
    assert (log[-1].what, log[-1].strand, log[-1].row) == (SEWN_IN, "T1", 24)
    assert ends_left(desk.plan) == 65
    assert "1 end sewn in" in changes_in_words(before, desk.project)
    # The boxes are the same ones, so that the keyboard's focus stays.
    assert form.boxes.children is kept
    form.boxes.children[2].value = False
    assert open_project(demo_copy).progress[-1].what == TAKEN_OUT
    assert ends_left(desk.plan) == 66


def test_an_end_that_is_not_knitted_yet_cannot_be_ticked(demo_copy):
    """K1 begins in row 12 of 96, and is run up over 8 rows, the first of them its own: rows 12 to
    19. With 18 worked its box cannot be ticked, with 19 it can."""
    desk = open_desk(str(demo_copy))
    form, screen = EndBoxes(desk), finishing_form(desk)
    assert "Still on the needles: 0 of 96 rows worked." in said(screen)
    rock = next(area for label, area in areas_to_choose(desk.plan) if label.startswith("K Rock"))
    form.area.value = rock
    work_rows(desk, 18)
    assert "Still on the needles: 18 of 96 rows worked." in said(screen)
    assert all(each.disabled for each in form.boxes.children)
    assert "5: can be sewn in after row 19; 6: can be sewn in after row 39." in said(form)
    # Another notebook, whose boxes are not up to date, is refused in words.
    with pytest.raises(PlanError, match="K1: can be sewn in after row 19"):
        mark_ends(desk, ends_in(desk.plan, rock)[:1], sewn=True)
    press(form, "All of this area are sewn in")
    assert "0 ends marked as sewn in, 2 cannot be sewn in yet." in said(form)
    assert not any(entry.what == SEWN_IN for entry in desk.project.progress)
    work_rows(desk, 1)
    assert [each.disabled for each in form.boxes.children] == [False, True]
    assert "after row 19" not in said(form)
    form.boxes.children[0].value = True
    assert "Please look" not in said(form)
    assert [each.is_sewn for each in ends_in(desk.plan, rock)] == [True, False]
    work_rows(desk, 77)
    assert "Still on the needles" not in said(screen)


def test_rows_taken_back_say_whose_ends_are_not_sewn_in_any_more(demo_copy):
    desk = open_desk(str(demo_copy))
    work_rows(desk, 40)
    in_two_rows = [each for each in ends_to_run(desk.plan) if each.end.row in (11, 23)]
    mark_ends(desk, in_two_rows, sewn=True)
    sewn = {each.mark for each in ends_to_run(desk.plan) if each.is_sewn}
    gone = {mark for mark in sewn if mark[1] > 20}
    assert gone
    assert sewn > gone
    before = desk.project
    told = mark_rows(desk, 20)
    for strand, row, note in gone:
        assert f"row {row}: an end of {strand} was sewn in at {note.split(', ')[1]}; draw" in told
    assert {each.mark for each in ends_to_run(desk.plan) if each.is_sewn} == sewn - gone
    news = changes_in_words(before, desk.project)
    assert f"rows 21–40 taken back; {len(gone)} ends no longer marked as sewn in" in news


def test_a_tick_changes_no_plan(demo_copy):
    """A sheet that was made stays; after a row it is told to be older than the plan."""
    desk = all_knitted(demo_copy)
    form, boxes = finishing_page_form(desk), EndBoxes(desk)
    press(form, "Make the finishing page")
    boxes.boxes.children[0].value = True
    boxes.boxes.children[0].value = False
    boxes.boxes.children[1].value = True
    assert said(form).count(ENDS_SINCE) == 1
    assert "Download the finishing page" in said(form)
    assert OUTDATED not in said(form)
    work_rows(desk, -1)
    assert OUTDATED in said(form)


def test_a_whole_area_is_ticked_at_once(demo_copy):
    desk = all_knitted(demo_copy)
    form, seen = EndBoxes(desk), EndBoxes(desk)
    sky = next(area for label, area in areas_to_choose(desk.plan) if label.startswith("N Midnight"))
    form.area.value = seen.area.value = sky
    form.boxes.children[0].value = True
    press(form, "All of this area are sewn in")
    assert ticked(form) == ticked(seen) == [True] * 16
    assert "15 ends marked as sewn in" in said(form)
    assert to_finish(desk.plan).count("50 of 66 ends left") == 1
    labels = {area: label for label, area in areas_to_choose(desk.plan)}
    assert labels[sky] == "N Midnight, rows 25–96: all sewn in"
    assert form.area.label == labels[sky]
    press(form, "All of this area are sewn in")
    assert len([each for each in desk.project.progress if each.what == SEWN_IN]) == 16


def test_it_opens_at_the_first_area_that_has_ends_left(demo_copy):
    desk = all_knitted(demo_copy)
    press(EndBoxes(desk), "All of this area are sewn in")
    form = EndBoxes(desk)
    assert form.area.label == "K Rock, rows 12–39: 2 left"
    assert form.boxes.children[0].description.startswith("5. K1 starts")


def test_a_piece_without_a_folder_keeps_no_ticks_and_says_so():
    desk = small()
    form = EndBoxes(desk)
    form.boxes.children[0].value = True
    assert "no folder" in said(form)
    assert ticked(form)[0] is False


def test_embroidery_comes_last_among_the_areas(demo_copy):
    desk = open_desk(str(demo_copy))
    desk.change(choices=(embroider("Y", 71, 23),))
    form = EndBoxes(desk)
    label, area = areas_to_choose(desk.plan)[-1]
    assert label == "embroidery, last of all"
    form.area.value = area
    assert len(ticked(form)) == 2
    assert "behind its own stitches, after blocking" in form.boxes.children[0].description


def test_what_is_ticked_here_is_left_out_of_notebook_4(demo_copy):
    desk = open_desk(str(demo_copy))
    assert ends_by_now(desk.plan) == "Ends: 0 of 66 can be sewn in now"
    # The four ends of the first area lie in rows 1 to 24; K1 begins in row 12.
    work_rows(desk, 24)
    form = EndBoxes(desk)
    by_now = sum(each.from_row <= 24 for each in ends_to_run(desk.plan))
    assert by_now > 4
    press(form, "All of this area are sewn in")
    assert ends_by_now(desk.plan) == f"Ends: {by_now - 4} of 62 can be sewn in now"


def test_an_edge_is_chosen_and_a_band_has_its_own_gauge():
    form = pick_up_form(open_desk("harbour-cushion"))
    assert "69 stitches in all, the right side facing you, from the cast-on edge up" in said(form)
    assert "8 T Sea green over 11 rows" in said(form)
    box(form, "edge").value = "left edge"
    assert "from the bind-off edge down" in said(form)
    # 24 stitches in 10 cm over 34.3 cm.
    box(form, "stitches in the band").value = 24
    assert "82 stitches in all" in said(form)


def test_a_seam_with_another_piece(demo_copy, monkeypatch):
    data = demo_copy.parent
    for name in ("back", "a-hat"):
        shutil.copytree(demo_copy, data / name)
    monkeypatch.setattr("planner.workbook.desk.DATA", data)
    desk = open_desk(str(demo_copy))
    form = seams_form(desk)
    assert "80 of 96 rows meet" in said(form)
    assert [place for _, place in other_pieces(desk)] == ["", "/mirrored", "a-hat", "back"]
    # What is one set with it comes first.
    change_set(data, lambda _: PieceSet("cushion", (SetPiece(demo_copy.name), SetPiece("back"))))
    assert [place for _, place in other_pieces(desk)] == ["", "/mirrored", "back", "a-hat"]
    box(form, "its edge").value = "right edge"
    box(form, "sewn to").value = "back"
    assert "Row for row from the bottom: all 96 rows meet their colour." in said(form)


def test_a_seam_knows_what_was_said_of_the_yarns_of_a_set(demo_copy, monkeypatch):
    """Midnight and Dawn blue are one yarn, Rust of one band and of another are two: as answered."""
    data = demo_copy.parent
    back = data / "back"
    shutil.copytree(demo_copy, back)
    yarns = (back / "yarns.csv").read_text()
    yarns = yarns.replace("N,Midnight,", "N,Dawn blue,").replace("#b5452c,100", "#b5452c,85")
    (back / "yarns.csv").write_text(yarns)
    settings = (back / "piece.toml").read_text()
    (back / "piece.toml").write_text(settings.replace("Harbour cushion", "Back"))
    monkeypatch.setattr("planner.workbook.desk.DATA", data)

    def sewn():
        form = seams_form(open_desk(str(demo_copy)))
        box(form, "its edge").value = "right edge"
        box(form, "sewn to").value = "back"
        return said(form)

    assert "Midnight meets Dawn blue" in sewn()
    pieces = (SetPiece(demo_copy.name), SetPiece("back"))
    change_set(data, lambda _: PieceSet("cushion", pieces))
    assert "Midnight meets Dawn blue" in sewn()
    one_yarn = Answer("letter", "N", ONE_YARN, demo_copy.name)
    change_set(data, lambda held: replace(held, answers=(one_yarn,)))
    assert "all 96 rows meet their colour" in sewn()
    two_yarns = (one_yarn, Answer("name", "rust", APART))
    change_set(data, lambda held: replace(held, answers=two_yarns))
    names = names_of_yarns(open_desk(str(demo_copy)), "back")
    assert names["N"] == "Midnight"
    assert names["R"] == "Rust of Back"
    assert names["K"] == "Rock"
    # A set that cannot be read says nothing; the seam goes by names then.
    (data / SET).write_text("[[piece\n")
    assert "Midnight meets Dawn blue" in sewn()


def test_two_fronts_meet_at_their_mirrored_edges():
    """The left edge of a mirrored piece is the right edge of this one: all rows meet."""
    form = seams_form(open_desk("harbour-cushion"))
    box(form, "sewn to").value = "/mirrored"
    assert "all 96 rows meet their colour" in said(form)


def test_the_page_is_written_and_offered(demo_copy):
    form = finishing_page_form(open_desk(str(demo_copy)))
    press(form, "Make the finishing page")
    assert (demo_copy / FINISHING).read_bytes().startswith(b"%PDF")
    assert "Download the finishing page" in said(form)


@pytest.mark.parametrize("call", ["sew_in", "tighten", "pick_up", "seams", "finishing_on_paper"])
def test_a_fold_opens(call):
    opened = getattr(Piece(open_desk("harbour-cushion")), call)()
    opened.heading.click()
    assert opened.is_open
    assert "Please look at this" not in said(opened)


def test_the_back_is_the_chart_mirrored_with_a_number_at_each_end():
    """A cell of the picture is looked up where its stitch lies when the back is up."""
    plan = demo()
    ends = ends_to_run(plan)[:4]
    spots = [Spot(each.number, each.end.row, each.end.column, each.is_sewn) for each in ends]
    # The tail of a cast-on with one thread hangs at the other corner.
    spots.append(Spot(1, 0, 0, is_sewn=False, or_here=True))
    figure = draw_back(plan, 1, spots)
    assert png_of(figure)
    (axes,) = figure.axes
    written = {text.get_text(): text.get_position() for text in axes.texts}
    corner, _ = axes.transLimits.transform(written["(1)"])
    assert corner == pytest.approx(71.5 / 72)
    for each in ends:
        x, y = written[str(each.number)]
        across, up = axes.transLimits.transform((x, y))
        # Stitch 1 from the right lies at the left.
        assert across == pytest.approx((each.end.stitch - 0.5) / 72)
        assert up == pytest.approx((each.end.row + 0.5) / 96)
