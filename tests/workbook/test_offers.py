"""The chart with the offers on it, driven as a browser drives it."""

from dataclasses import replace

import numpy as np
import pytest

from planner import Chart, Project, open_project
from planner.choices import find_offers
from planner.folder import start_piece
from planner.pictures import draw_chart
from planner.piece import OwnChoice
from planner.workbook import Desk, offers_form
from planner.workbook.offered import (
    Figures,
    choices_to_accept,
    decisions,
    key_of,
    stretches_of,
    too_many_in_words,
)
from tests.helpers.forms import choices_of, offer_of, press_on, words_of

STARS = "embroider 3 × a patch of 6 stitches in Y"


@pytest.fixture
def offers(desk):
    return offers_form(desk).offers


def item_of(offers, words):
    """The offer that says this, as the browser has it."""
    return next(item for item in offers.items if words in item["what"])


# What is shown


def test_figures_are_those_of_the_plan(desk, offers):
    assert offers.figures == ["33", "66", "9", "123", "169"]
    assert offers.names[-1] == "m of yarn"
    assert Figures.of(desk.plan).live == desk.plan.rows.live.max()


def test_an_offer_is_told_with_its_stitches_and_what_changes(offers):
    stars = item_of(offers, STARS)
    assert stars["change"] == "33 → 27 strands · 66 → 60 ends"
    assert stars["after"] == ["27", "60", "9", "123", "169"]
    assert stars["mind"] == "light over dark: N may show through"
    # Three stars, each two stitches wide and three rows high, in a chart of 72 stitches.
    assert [count for _, count in stars["parts"]] == [2] * 9
    columns = {(first % 72) + 1 for first, _ in stars["parts"]}
    assert columns == {72 - 24 + 1, 72 - 4 + 1, 72 - 39 + 1}


def test_a_carry_is_told_with_its_way(offers):
    """From the window, which ends in row 69, to the star, which begins in row 71."""
    carry = item_of(offers, "carry Y1 on to Y2")
    [[begins, from_row, ends, to_row]] = carry["ways"]
    assert (from_row + 1, to_row + 1) == (69, 71)
    assert abs(begins - ends) == 7


def test_what_hangs_beyond_the_wish_is_said(desk, offers):
    assert "More than" not in offers.note
    desk.change(weighing=replace(desk.project.weighing, most_live=8))
    assert "More than 8 at once in rows 35–39." in offers.note


def test_another_piece_on_the_desk_is_shown(desk, offers, tmp_path):
    """All that is shown follows, and what was said of the piece before is gone."""
    press_on(offers, "take", offer_of(offers, STARS))
    desk.go_to(start_piece(tmp_path, "Small", Chart.from_rows(["AAB", "ABB"]), {}))
    assert (offers.title, len(offers.grid)) == ("Small", 4 + 6)
    assert (offers.said, offers.taken, sum(offers.embroidered)) == ("", [], 0)
    assert [yarn["letter"] for yarn in offers.yarns] == ["A", "B"]
    assert [value for value, _ in offers.grounds] == ["by itself", "on A", "on B"]
    assert not any("Y" in item["what"] for item in offers.items)


def test_a_saved_notebook_has_the_chart_and_a_table(desk):
    form = offers_form(desk)
    words = form.words()
    assert "data:image/png" in words
    assert "14 offers, best first" in words
    bundle = form.offers._repr_mimebundle_()
    assert "image/png" in bundle
    assert bundle["text/plain"] == repr(form.offers)


# What is pressed


def test_an_offer_is_taken_and_taken_back_as_it_was_offered(desk, demo_copy, offers):
    before, ends = set(desk.plan.winding_list.labels), len(desk.plan.ends)
    press_on(offers, "take", offer_of(offers, STARS))
    assert choices_of(demo_copy) == [("embroider", "Y", "by itself")] * 3
    assert set(desk.plan.winding_list.labels) != before
    # Six strands fewer, and two ends of each of the three lengths to embroider with.
    assert len(desk.plan.ends) == ends - 12 + 6
    assert offers.figures == ["27", "60", "9", "123", "169"]
    assert f"Taken: {STARS}. 33 → 27 strands · 66 → 60 ends" in words_of(offers.said)
    assert offers.answered == 1
    assert not offer_of(offers, "3 × a patch of 6")
    [taken] = offers.taken
    assert (taken["what"], taken["change"]) == (STARS, "3 places")
    assert sum(offers.embroidered) == 18
    press_on(offers, "take back", taken["key"])
    assert choices_of(demo_copy) == []
    assert len(desk.plan.ends) == ends
    assert (offers.taken, sum(offers.embroidered)) == ([], 0)
    press_on(offers, "take back", taken["key"])
    assert "taken back already" in words_of(offers.said)


def test_what_was_taken_together_is_known_tomorrow(demo_copy, offers):
    press_on(offers, "take", offer_of(offers, STARS))
    press_on(offers, "take", offer_of(offers, "a patch of 9 stitches in Y"))
    again = offers_form(Desk(open_project(demo_copy))).offers
    assert [item["change"] for item in again.taken] == ["3 places", ""]
    press_on(again, "take back", again.taken[0]["key"])
    assert choices_of(demo_copy) == [("embroider", "Y", "by itself")]


def test_what_to_mind_is_said_before_and_after_an_offer_is_taken(desk, offers):
    """Lamp yellow is far lighter than Midnight; a line upwards of black is not."""
    words = "light over dark: N may show through"
    assert "after blocking" in offers.note
    press_on(offers, "take", offer_of(offers, "a line of 30 stitches in K"))
    assert "Mind: " not in offers.said
    assert desk.plan.notes == ()
    press_on(offers, "take", offer_of(offers, STARS))
    assert f"Mind: {words}." in words_of(offers.said)
    [note] = desk.plan.notes
    assert note.startswith("Y is embroidered over the much darker N, from row 71 (RS), stitch 23")
    assert "Embroidered after blocking: 4 areas, 48 stitches" in desk.plan.summary()


def test_an_offer_is_refused_and_brought_back(desk, demo_copy, offers):
    plan = desk.plan.traced.count
    press_on(offers, "refuse", offer_of(offers, "carry Y1 on to Y2"))
    assert choices_of(demo_copy) == [("carry", "Y", "refused")]
    assert desk.plan.traced.count == plan
    for again in (offers, offers_form(Desk(open_project(demo_copy))).offers):
        assert not offer_of(again, "carry Y1 on to Y2")
        assert again.taken == []
        [refused] = again.refused
        assert "carry Y1 on to Y2" in refused["what"]
    press_on(offers, "take back", refused["key"])
    assert "Brought back" in words_of(offers.said)
    assert offer_of(offers, "carry Y1 on to Y2")


def test_all_that_was_taken_is_taken_back_at_once(demo_copy, offers):
    press_on(offers, "refuse", offer_of(offers, "carry Y1 on to Y2"))
    for words in (STARS, "a line of 30 stitches in K"):
        press_on(offers, "take", offer_of(offers, words))
    press_on(offers, "take all back")
    assert choices_of(demo_copy) == [("carry", "Y", "refused")]
    assert "2 decisions taken back" in words_of(offers.said)


def test_a_ground_of_the_knitters_own(desk, offers):
    press_on(offers, "take", offer_of(offers, "patch of 9 stitches in Y"), "on R")
    assert desk.plan.embroidery.ground.tolist() == ["R"]


def test_a_middle_start_given_up(desk, offers):
    before = desk.plan.traced
    press_on(offers, "take", offer_of(offers, "begin W7 plainly"))
    after = desk.plan.traced
    assert (after.count, after.middle_starts) == (before.count + 1, before.middle_starts - 1)


def test_what_is_embroidered_is_in_the_totals(desk, offers):
    assert "66 ends to sew in." in desk.plan.summary()
    press_on(offers, "take", offer_of(offers, STARS))
    # As the offer said, 6 fewer.
    assert "60 ends to sew in (6 of them from embroidery)" in desk.plan.summary()
    assert "embroidery included" in desk.plan.summary()
    embroidered = desk.plan.winding_list.supply == "to embroider"
    assert desk.plan.winding_list.pieces[embroidered].sum() == 3
    lengths_m = desk.plan.winding_list.length_m * desk.plan.winding_list.pieces
    assert f"Yarn for the piece: {lengths_m.sum():.0f} m" in desk.plan.summary()
    assert lengths_m[embroidered].sum() == pytest.approx(desk.plan.embroidery.length_m.sum())


def test_nothing_is_taken_while_offers_are_priced(demo_copy, offers):
    key = offer_of(offers, STARS)
    offers.pricing = True
    press_on(offers, "take", key)
    assert "priced anew" in words_of(offers.said)
    assert choices_of(demo_copy) == []


def test_what_is_offered_no_more_is_not_taken(demo_copy, offers):
    key = offer_of(offers, "a patch of 6 stitches in Y, from row 71")
    press_on(offers, "take", offer_of(offers, STARS))
    press_on(offers, "take", key)
    assert "not offered any more" in words_of(offers.said)
    assert choices_of(demo_copy) == [("embroider", "Y", "by itself")] * 3


def test_a_piece_without_a_folder_can_look_but_not_keep():
    desk = Desk(Project("loose", Chart.from_rows(["AAAAAAA", "AAABAAA", "AAAAAAA"])))
    offers = offers_form(desk).offers
    press_on(offers, "take", offers.items[0]["key"])
    assert "no folder to keep a choice in" in words_of(offers.said)


def test_one_plain_yarn_has_nothing_to_choose():
    offers = offers_form(Desk(Project("plain", Chart.from_rows(["AAAA"] * 4)))).offers
    assert (offers.items, offers.taken, offers.refused) == ([], [], [])


def test_what_is_embroidered_is_marked_on_the_picture(desk, offers):
    marks = len(draw_chart(desk.plan).axes[0].collections)
    press_on(offers, "take", offer_of(offers, STARS))
    figure = draw_chart(desk.plan)
    assert len(figure.axes[0].collections) == marks + 1
    assert any("18 embroidered (V)" in text.get_text() for text in figure.legends[0].get_texts())
    # It looks as it was drawn.
    assert len(figure.axes[0].collections[-1].get_offsets()) == 18


# The functions behind it


def test_choices_that_accept_an_offer(desk):
    """A ground of one's own is put into each choice of embroidery; nothing else has a ground."""
    offers = {offer.about: offer for offer in find_offers(desk.project)}
    patch, carry = offers["embroider"], offers["carry"]
    assert choices_to_accept(patch, "by itself") == patch.choices
    assert {choice.choice for choice in choices_to_accept(patch, "on R")} == {"on R"}
    assert choices_to_accept(carry, "on R") == carry.choices


def test_decisions_leave_supplies_out(desk):
    about = ("supply", "carry", "embroider", "middle")
    made = tuple(OwnChoice(each, "Y", 3, 2, "whole", "yes") for each in about)
    decided = decisions(replace(desk.project, choices=made), desk.plan.traced)
    assert [each.choices[0].about for each in decided] == ["carry", "embroider", "middle"]


def test_no_two_offers_have_one_key(desk):
    keys = [key_of(offer.choices) for offer in find_offers(desk.project)]
    assert len(set(keys)) == len(keys)


def test_cells_as_stretches():
    assert stretches_of(np.array([], dtype=int)) == []
    assert stretches_of(np.array([3, 4, 5, 9, 11, 12])) == [[3, 3], [9, 1], [11, 2]]


def test_rows_with_too_many_in_words(desk):
    """Row by row as the table of rows has it."""
    words = too_many_in_words(desk.plan.traced, 6)
    listed = []
    for stretch in words.removeprefix("More than 6 at once in rows ").rstrip(".").split(", "):
        first, _, last = stretch.partition("–")
        listed += range(int(first), int(last or first) + 1)
    assert listed == desk.plan.rows.row[desk.plan.rows.live > 6].tolist()
    assert too_many_in_words(desk.plan.traced, 99) == ""
