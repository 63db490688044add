"""Never more at once than so many: what it takes, line by line, and taken together."""

from planner import Chart
from planner.folder import start_piece
from planner.workbook import ceiling_form, offers_form
from planner.workbook.offers import SpotChart
from tests.helpers.forms import boxes, by_label, choices_of, press, press_on, said, work_rows


def listed(form):
    """What the chart of a ceiling lists."""
    [chart] = boxes(form, SpotChart)
    return [item["what"] for item in chart.items]


def test_a_ceiling_is_found_and_kept(desk, demo_copy):
    form = ceiling_form(desk)
    assert by_label(form)["never more at once than"].value == 8  # one less than now
    press(form, "Find a way")
    assert "by 5 extra carries: no way takes fewer" in said(form)
    assert "33 → 32 strands · 66 → 64 ends · 9 → 8 most at once" in said(form)
    assert listed(form) == ["carry W Cream behind K Rock: rows 35–39, stitches 13–15 (5 times)"]
    assert choices_of(demo_copy) == []  # nothing is done before it is accepted
    press(form, "Take all of it")
    assert choices_of(demo_copy) == [("carry", "W", "yes")] * 5
    assert desk.plan.rows.live.max() == 8
    by_label(form)["never more at once than"].value = 5
    press(form, "Find a way")
    assert "cannot be done" in said(form)
    assert "1 too many in rows 35–39" in said(form)
    assert by_label(form)["Take all of it"].disabled


def test_what_was_taken_for_a_ceiling_goes_together(desk, demo_copy):
    ceiling, offers = ceiling_form(desk), offers_form(desk).offers
    press(ceiling, "Find a way")
    press(ceiling, "Take all of it")
    [taken] = offers.taken
    assert (taken["what"], taken["change"]) == ("never more than 8 at once", "5 places")
    press_on(offers, "take back", taken["key"])
    assert choices_of(demo_copy) == []
    assert desk.plan.rows.live.max() == 9


def test_its_list_lights_up_on_the_chart(desk):
    """The door is three stitches wide and five rows high; both runs beside it light up too."""
    form = ceiling_form(desk)
    press(form, "Find a way")
    [chart] = boxes(form, SpotChart)
    [item] = chart.items
    rows = {first // 72 + 1 for first, _ in item["parts"]}
    assert rows == {35, 36, 37, 38, 39}
    assert len(item["ways"]) == 5
    assert {abs(begins - ends) for begins, _, ends, _ in item["ways"]} == {3}


def test_what_is_proposed_follows_until_something_is_typed(desk):
    form = ceiling_form(desk)
    press(form, "Find a way")
    press(form, "Take all of it")
    most = by_label(form)["never more at once than"]
    assert most.value == 7
    most.value = 4
    desk.change(name="Another")
    assert most.value == 4


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


def test_another_piece_has_a_proposal_of_its_own(desk, tmp_path):
    form = ceiling_form(desk)
    by_label(form)["never more at once than"].value = 5
    press(form, "Find a way")
    desk.go_to(start_piece(tmp_path, "Small", Chart.from_rows(["AAB", "ABB"]), {}))
    assert by_label(form)["never more at once than"].value == 1
    assert "cannot be done" not in said(form)
    assert listed(form) == []
