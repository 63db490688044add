"""How offers are looked for, where the round begins, and what is embroidered."""

from dataclasses import replace

from planner import CarryLimits, Construction
from planner.workbook import embroidery_pane, offers_form, start_form, weighing_form
from tests.helpers.forms import by_label, offer_of, press, press_on, said, small


def test_another_start_of_the_round():
    """By hand, as in the test of the choice: B on both sides of the join is one strand less if the
    round begins beside it."""
    strict = CarryLimits(0, 0, 0, middle_start=False)
    desk = small(["BBAAAABB"] * 4, how=Construction(worked="turned"), limits=strict)
    form = start_form(desk)
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
    form = start_form(desk)
    assert form.layout.display == "none"
    desk.change(how=replace(desk.project.how, worked="rounds"))
    assert form.layout.display == ""


def test_weights_change_what_is_offered(desk):
    form, offers = weighing_form(desk), offers_form(desk).offers
    assert offer_of(offers, "patch of 12 stitches in R")
    box = by_label(form)
    box["embroider patches of up to (stitches)"].value = 9
    box["or up to so many stitches wide"].value = 1
    assert not offer_of(offers, "patch of 12 stitches in R")
    box["mark rows with more at once than"].value = 0
    assert "too few" in said(form)
    box["mark rows with more at once than"].value = 7
    assert "More than 7 at once in rows 35–39." in offers.note


def test_what_is_embroidered_is_told_with_what_to_mind(desk):
    pane = embroidery_pane(desk)
    assert "Nothing is embroidered" in pane.value
    offers = offers_form(desk).offers
    press_on(offers, "take", offer_of(offers, "3 × a patch of 6 stitches in Y"))
    assert "after blocking" in pane.value
    [note] = desk.plan.notes
    assert note.replace(" (common practice, no source)", "") in pane.value
    # How well that is known is folded away, once for all notes.
    assert pane.value.count("common practice") == 1
