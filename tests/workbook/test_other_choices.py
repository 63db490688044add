"""The forms of notebook 5, driven as a browser drives them."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, Construction, PlanError, Project, open_project
from planner.choices import find_offers
from planner.folder import read_choices
from planner.pictures import draw_chart
from planner.piece import OwnChoice
from planner.workbook import (
    Desk,
    bobbins_form,
    buying_form,
    ceiling_form,
    embroidery_pane,
    offers_form,
    savings_pane,
    tradeoff_form,
    weighing_form,
)
from planner.workbook.other_choices import (
    bobbins_html,
    buying_html,
    choices_to_accept,
    decisions,
)
from tests.helpers.folders import contents
from tests.helpers.forms import by_label, option, press, said, said_html, small, work_rows


def choices_of(folder):
    return [
        (c.about, c.yarn, c.choice)
        for c in read_choices(folder / "choices.csv")
        if c.about != "supply"
    ]


def test_the_slider_plans_with_a_rung_and_the_curve_follows(desk):
    form = tradeoff_form(desk)
    slider = by_label(form)["plan with line"]
    before = desk.plan.traced.count
    slider.value = len(slider.options) - 1
    assert desk.plan.traced.count < before
    assert desk.project.limits == CarryLimits(7, 10, 6)
    assert "planned so" in said(form)
    assert slider.value == len(slider.options) - 1  # the plan now
    assert open_project(desk.project.folder).limits == CarryLimits(7, 10, 6)


def test_the_limits_of_one_yarn_alone(desk):
    form = tradeoff_form(desk)
    general, before = desk.project.limits, desk.plan.traced.count
    by_label(form)["limits of"].value = "N"
    slider = by_label(form)["plan with line"]
    slider.value += 1
    assert desk.project.limits == general
    assert desk.project.by_yarn["N"] == CarryLimits(2, 5, 3)
    assert (
        desk.plan.traced.count == before - 3
    )  # behind the wings of the gulls, as the notebook says
    assert "limits of yarn N" in said_html(form)  # the words of the picture


def test_looking_at_the_tradeoff_changes_nothing(desk):
    form = tradeoff_form(desk)
    before = contents(desk.project.folder)
    for letter in ("K", "T", "yarns without limits of their own"):
        by_label(form)["limits of"].value = letter
    assert contents(desk.project.folder) == before


def test_an_offer_is_accepted_and_the_winding_list_changes(desk, demo_copy):
    form = offers_form(desk)
    before, ends = set(desk.plan.winding_list.labels), len(desk.plan.ends)
    which = by_label(form)["offer"]
    which.value = option(which, "embroider 3 × a patch of 6 stitches in Y")
    press(form, "Accept")
    assert choices_of(demo_copy) == [("embroider", "Y", "by itself")] * 3
    assert set(desk.plan.winding_list.labels) != before
    # Six strands fewer, and two ends of each of the three lengths to embroider with.
    assert len(desk.plan.ends) == ends - 12 + 6
    assert (len(desk.plan.embroidery), desk.plan.embroidery.stitches.sum()) == (3, 18)
    assert "3 × a patch of 6" not in str([label for label, _ in which.options])
    # Taken back one by one, all is as it was.
    for _ in range(3):
        press(form, "Take this one back")
    assert choices_of(demo_copy) == []
    assert len(desk.plan.ends) == ends
    press(form, "Take this one back")
    assert "Nothing is decided yet" in said(form)


def test_what_to_mind_is_said_before_and_after_an_offer_is_taken(desk):
    """Lamp yellow is far lighter than Midnight; a line upwards of black is not."""
    form = offers_form(desk)
    which = by_label(form)["offer"]
    words = "light over dark: N may show through (common practice, no source)"
    assert words in said(form)
    assert "after blocking" in said(form)
    which.value = option(which, "a line of 30 stitches in K")
    press(form, "Accept")
    assert "Mind: " not in said(form)
    assert desk.plan.notes == ()
    which.value = option(which, "embroider 3 × a patch of 6 stitches in Y")
    press(form, "Accept")
    assert f"Mind: {words}" in said(form)
    [note] = desk.plan.notes
    assert note.startswith("Y is embroidered over the much darker N, from row 71 (RS), stitch 23")
    assert "Embroidered after blocking: 4 areas, 48 stitches" in desk.plan.summary()
    embroidered = embroidery_pane(desk).value
    assert "after blocking" in embroidered
    assert note in embroidered


def test_an_offer_is_refused_and_stays_refused(desk, demo_copy):
    form = offers_form(desk)
    which = by_label(form)["offer"]
    carry = option(which, "carry Y1 on to Y2")
    which.value = carry
    plan = desk.plan.traced.count
    press(form, "Refuse")
    assert choices_of(demo_copy) == [("carry", "Y", "refused")]
    assert desk.plan.traced.count == plan
    for again in (form, offers_form(Desk(open_project(demo_copy)))):
        assert "carry Y1 on to Y2" not in str(
            [label for label, _ in by_label(again)["offer"].options]
        )
    press(form, "Take this one back")
    assert option(which, "carry Y1 on to Y2") is not None


def test_another_start_of_the_round():
    """By hand, as in the test of the choice: B on both sides of the join is one strand less if the
    round begins beside it."""
    strict = CarryLimits(0, 0, 0, middle_start=False)
    desk = small(["BBAAAABB"] * 4, how=Construction(worked="turned"), limits=strict)
    form = offers_form(desk)
    begin = by_label(form)["Begin the round there"]
    assert begin.disabled
    press(form, "Try every start of the round")
    assert "3 strands, 6 ends" in said(form)
    assert "Best of 8 starts, between stitches 2 and 3 from the right: 2 strands" in said(form)
    assert not begin.disabled
    press(form, "Begin the round there")
    assert desk.plan.traced.count == 2
    assert "the round begins at what was stitch 3: planned so" in said(form)
    # What was found belongs to the chart as it was.
    assert begin.disabled
    assert "Best of 8" not in said(form)
    press(form, "Try every start of the round")
    assert "None of the 8 starts of the round takes less." in said(form)
    assert begin.disabled


def test_flat_work_has_no_start_of_the_round(desk):
    form = offers_form(desk)
    assert "Try every start" not in form.words()
    desk.change(how=replace(desk.project.how, worked="rounds"))
    assert "[Try every start of the round]" in form.words()


def test_a_ground_of_the_knitters_own(desk):
    form = offers_form(desk)
    which = by_label(form)["offer"]
    which.value = option(which, "patch of 9 stitches in Y")
    by_label(form)["embroidered ones are knitted"].value = "on R"
    press(form, "Accept")
    assert desk.plan.embroidery.ground.tolist() == ["R"]


def test_a_middle_start_given_up(desk):
    form = offers_form(desk)
    which, before = by_label(form)["offer"], desk.plan.traced
    which.value = option(which, "begin W7 plainly")
    press(form, "Accept")
    after = desk.plan.traced
    assert (after.count, after.middle_starts) == (before.count + 1, before.middle_starts - 1)


def test_a_ceiling_is_found_and_kept(desk, demo_copy):
    form = ceiling_form(desk)
    by_label(form)["never more at once than"].value = 8
    press(form, "Find a way")
    assert "by 5 extra carries: no way takes fewer" in said(form)
    assert "-1 strands, -2 ends, -1 most at once" in said(form)
    assert "carry W in row 35 over 3 stitches, from its run at stitch 8: yes" in said(form)
    assert choices_of(demo_copy) == []  # nothing is done before it is accepted
    press(form, "Accept all of it")
    assert choices_of(demo_copy) == [("carry", "W", "yes")] * 5
    assert desk.plan.rows.live.max() == 8
    by_label(form)["never more at once than"].value = 5
    press(form, "Find a way")
    assert "cannot be done" in said(form)
    assert by_label(form)["Accept all of it"].disabled


def test_all_is_taken_back_at_once(desk, demo_copy):
    ceiling, offers = ceiling_form(desk), offers_form(desk)
    by_label(ceiling)["never more at once than"].value = 8
    press(ceiling, "Find a way")
    press(ceiling, "Accept all of it")
    press(offers, "Take all of them back")
    assert choices_of(demo_copy) == []
    assert desk.plan.rows.live.max() == 9


def test_a_ceiling_speaks_of_the_rows_to_come(desk):
    work_rows(desk, 40)
    form = ceiling_form(desk)
    by_label(form)["never more at once than"].value = 8
    press(form, "Find a way")
    assert desk.plan.rows.live.max() == 9  # row 35 is knitted already
    assert (
        "In the rows still to be worked, from row 41 on: The plan keeps to 8 at once as it is"
        in said(form)
    )


def test_what_is_embroidered_is_in_the_totals(desk):
    before = desk.plan.summary()
    assert "66 ends to sew in." in before
    form = offers_form(desk)
    by_label(form)["offer"].value = option(by_label(form)["offer"], "embroider 3 ×")
    press(form, "Accept")
    # As the offer said, 6 fewer.
    assert "60 ends to sew in (6 of them from embroidery)" in desk.plan.summary()
    assert "embroidery included" in desk.plan.summary()
    embroidered = desk.plan.winding_list.supply == "to embroider"
    assert desk.plan.winding_list.pieces[embroidered].sum() == 3
    lengths_m = desk.plan.winding_list.length_m * desk.plan.winding_list.pieces
    assert f"Yarn for the piece: {lengths_m.sum():.0f} m" in desk.plan.summary()
    assert lengths_m[embroidered].sum() == pytest.approx(desk.plan.embroidery.length_m.sum())


def test_limits_of_their_own_are_said(desk):
    assert "N: limits of its own, left as they are" in said(tradeoff_form(desk))


def test_weights_change_what_is_offered(desk):
    form, offers = weighing_form(desk), offers_form(desk)
    assert "patch of 12 stitches in R" in str(by_label(offers)["offer"].options)
    box = by_label(form)
    box["embroider patches of up to (stitches)"].value = 9
    box["or up to so many stitches wide"].value = 1
    assert "patch of 12 stitches in R" not in str(by_label(offers)["offer"].options)
    box["mark rows with more at once than"].value = 0
    assert "too few" in said(form)
    box["mark rows with more at once than"].value = 7
    assert "More than 7 at once in: rows" in said(offers)


def test_a_piece_without_a_folder_can_look_but_not_keep():
    desk = Desk(Project("loose", Chart.from_rows(["AAAAAAA", "AAABAAA", "AAAAAAA"])))
    form = offers_form(desk)
    press(form, "Accept")
    assert "no folder to keep a choice in" in said(form)


def test_one_plain_yarn_has_nothing_to_choose():
    desk = Desk(Project("plain", Chart.from_rows(["AAAA"] * 4)))
    form = offers_form(desk)
    press(form, "Accept")
    assert "There is no offer" in said(form)
    assert "Nothing in the plan is held on a bobbin" in said(bobbins_form(desk))
    assert "no left-over" in savings_pane(desk).value
    tradeoff_form(desk)
    buying_form(desk)


def test_bobbins_owned(desk):
    form = bobbins_form(desk)
    assert "3 bobbins in use" in said(form)
    by_label(form)["bobbins owned (0: as few as will do)"].value = 2
    assert "3 hang at once" in said(form)
    by_label(form)["butterflies too"].value = True
    by_label(form)["bobbins owned (0: as few as will do)"].value = 10
    assert "bobbins in use" in said(form)


def test_buying_for_two_and_lots(desk):
    form = buying_form(desk)
    assert "The pieces" not in said(form)
    by_label(form)["pieces alike"].value = 2
    by_label(form)["of these, mirrored"].value = 1
    assert "Harbour cushion, mirrored" in said(form)
    by_label(form)["share two dye lots of"].value = "N"
    assert "Dye lots of N" in said(form)
    by_label(form)["of these, mirrored"].value = 5
    assert "Please look at this" in said(form)


def test_what_is_embroidered_is_marked_on_the_chart(desk, demo_copy):
    marks = len(draw_chart(desk.plan).axes[0].collections)
    form = offers_form(desk)
    by_label(form)["offer"].value = option(by_label(form)["offer"], "embroider 3 ×")
    press(form, "Accept")
    figure = draw_chart(desk.plan)
    assert len(figure.axes[0].collections) == marks + 1
    assert any("18 embroidered (V)" in text.get_text() for text in figure.legends[0].get_texts())
    # It looks as it was drawn.
    assert len(figure.axes[0].collections[-1].get_offsets()) == 18


# The functions behind the forms


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
    decided = decisions(replace(desk.project, choices=made))
    assert [choice.about for choice in decided] == ["carry", "embroider", "middle"]


def test_buying_by_function(desk):
    alone = buying_html(desk.plan, pieces=1, mirrored=0, lots="none")
    assert "The pieces" not in alone
    assert "Dye lots" not in alone
    assert "enough is 95 times in 100" in alone
    two = buying_html(desk.plan, pieces=2, mirrored=1, lots="N")
    assert two.startswith("<b>The pieces</b>")
    assert "<b>Dye lots of N</b>" in two


def test_bobbins_by_function(desk):
    few = bobbins_html(desk.plan, owned=0, butterflies=False)
    assert few.startswith("3 bobbins in use.")
    with pytest.raises(PlanError, match="3 hang at once"):
        bobbins_html(desk.plan, owned=2, butterflies=False)
