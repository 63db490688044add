"""Sheets of charts in many styles: nearly all right, and none silently wrong; pasted cells."""

from __future__ import annotations

import numpy as np
import pytest

from planner import PlanError
from planner.charts import read_pasted, read_sheet
from tests.helpers.chart_sheets import STYLES
from tests.helpers.sheet_survey import RIGHT, SILENT, in_style, outcome_of
from tests.helpers.workbooks import asked, rows_of

TIMES = 2
MARKS = "a slip of the hand"  # which is read as it stands, and marked


@pytest.fixture(scope="module")
def outcomes():
    return {
        (name, number): outcome_of(in_style(name, number))
        for name in STYLES
        for number in range(TIMES)
    }


def test_none_is_silently_wrong(outcomes):
    assert [key for key, (outcome, _) in outcomes.items() if outcome == SILENT] == []


def test_nearly_all_are_right(outcomes):
    right = [outcome == RIGHT for (name, _), (outcome, _) in outcomes.items() if name != MARKS]
    assert np.mean(right) >= 0.97


def test_few_that_are_right_are_asked_about(outcomes):
    needless = [is_asked for outcome, is_asked in outcomes.values() if outcome == RIGHT]
    assert np.mean(needless) <= 0.05


def test_pasted_text_keeps_what_was_marked_if_it_is_ground():
    text = "\t\t\t\t\r\n\tA\tB\tA\t\r\n\tB\tB\tA\t\r\n\t\t\t\t\r\n"
    read = read_pasted(text)
    assert rows_of(read) == ["ABA", "BBA"]
    assert asked(read) == {"blanks": "no stitch", "row_1": "bottom"}
    whole = read_pasted(text, blanks="ground", row_1="bottom")
    assert rows_of(whole) == ["CCCCC", "CABAC", "CBBAC", "CCCCC"]
    assert whole.asks == ()


def test_a_pasted_table_has_its_colours_and_merged_cells():
    text = (
        "<style>.x1 {background:#B5452C;}</style><table>"
        '<tr><td class="x1" colspan=2></td><td bgcolor=navy rowspan=2>&nbsp;</td><td>2</td></tr>'
        '<tr><td style="background: rgb(0,0,128)"></td><td class=x1></td><td>1</td></tr></table>'
    )
    read = read_pasted(text, yarns={"R": "#b5452c", "N": "#000080"})
    assert rows_of(read) == ["RRN", "NRN"]
    assert read.colours == {"R": "#b5452c", "N": "#000080"}


def test_another_chart_on_the_sheet_can_be_chosen():
    text = b"A,B,A,,,C,D,C\nB,B,A,,,D,D,C\nA,B,A,,,C,C,D\n"
    read = read_sheet(text, "two.csv")
    assert read.others == ("F1:H3",)
    (which, _) = read.asks
    assert (which.setting, which.choices) == ("area", ("A1:C3", "F1:H3"))
    assert rows_of(read_sheet(text, "two.csv", area="F1:H3")) == ["CDC", "DDC", "CCD"]


def test_ridges_can_be_told_to_be_one_row_each():
    text = b"A,B,A,5\nB,B,A,3\nA,A,A,1\n"
    read = read_sheet(text, "ridges.csv")
    assert rows_of(read) == ["ABA", "ABA", "BBA", "BBA", "AAA", "AAA"]
    assert asked(read) == {"ridges": "two rows each"}
    one = read_sheet(text, "ridges.csv", ridges="one row each")
    assert rows_of(one) == ["ABA", "BBA", "AAA"]
    assert one.asks == ()


def test_cells_where_letter_and_fill_disagree_are_marked():
    drawn = in_style("fills and letters at odds", 0)
    read = read_sheet(drawn.data, drawn.name)
    assert 1 <= read.doubtful.sum() <= 3
    assert read.doubtful.shape == read.chart.cells.shape
    assert any(note.startswith("Look at these once more") for note in read.notes)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"10A,3B\n5A,8B\n2B,11A\n", "rows in words"),
        (b"A,#REF!\nB,A\n", "holds the error #REF!"),
        (b"Cast on 120 stitches.\nWork 4 rows.\nCast off.\n", "no chart"),
    ],
)
def test_what_is_no_chart_is_refused(text, words):
    with pytest.raises(PlanError, match=words):
        read_sheet(text, "list.csv")
