"""Two notebooks on one piece in real JupyterLab, and a piece made contradictory by hand."""

from __future__ import annotations

from datetime import date

import pytest

from planner.folder import chart_csv, open_project
from planner.piece import Chart
from planner.plan import make_plan
from planner.strands import note_row
from tests.helpers.browsing import ALL_RUN, ROW_WORKED, own_piece, row_of

pytestmark = pytest.mark.browser


def test_two_notebooks_changed_in_turn_are_both_true(lab, page):
    """Balls changed in one, a row marked in the other: each shows both, and the folder has both."""
    folder = own_piece(lab, "3-yarn-plan.ipynb", "4-row-by-row.ipynb")
    lab.open(page, "3-yarn-plan.ipynb")
    lab.run_all(page, ALL_RUN)
    other = page.context.new_page()
    lab.open(other, "4-row-by-row.ipynb")
    lab.run_all(other, "Row worked")

    page.get_by_role("button", name="How the yarns are held:").click()
    balls = page.get_by_label("balls on the table at most", exact=True)
    balls.fill("2")
    balls.press("Enter")
    other.locator(".jupyter-widgets", has_text="your ways of holding yarn").first.wait_for(
        timeout=30_000
    )
    other.get_by_role("button", name=ROW_WORKED).click()
    row_of(other, 2).wait_for(timeout=60_000)
    page.locator(".jupyter-widgets", has_text="row 1 worked").first.wait_for(timeout=30_000)
    # The second press of a double click is made before the first is answered: one row.
    other.get_by_role("button", name=ROW_WORKED).dblclick()
    row_of(other, 3).wait_for(timeout=60_000)
    other.wait_for_timeout(2_000)
    assert row_of(other, 3).is_visible()

    held = open_project(folder)
    assert held.habits.balls_on_table == 2
    assert [entry.row for entry in held.progress] == [1, 2]


def test_a_contradictory_piece_opens_and_is_mended_by_its_button(lab, page):
    """A stitch of a knitted row is changed in the file: said at the top, and put back."""
    folder = own_piece(lab, "4-row-by-row.ipynb")
    project = open_project(folder)
    note = note_row(make_plan(project).traced, 1)
    header = "number,date,what,row,stitches,runs\n"
    line = f'1,{date.today()},row worked,1,{project.chart.columns},"{note}"\n'
    (folder / "progress.csv").write_text(header + line, encoding="utf-8")
    rows = project.chart.to_rows()
    rows[-1] = ["W", *rows[-1][1:]]
    (folder / "chart.csv").write_text(chart_csv(Chart.from_rows(rows)), encoding="utf-8")

    lab.open(page, "4-row-by-row.ipynb")
    lab.run_all(page, "Row worked")
    page.locator(".jupyter-widgets", has_text="Row 1 is knitted with").first.wait_for()
    # Nothing is marked while it is so.
    page.get_by_role("button", name=ROW_WORKED).click()
    page.locator(".jupyter-widgets", has_text="First one of the ways out").first.wait_for(
        timeout=30_000
    )
    page.get_by_role("button", name="Take the chart as it was knitted").click()
    # The card was there before, too; what was done is said when it is done.
    page.locator(".jupyter-widgets", has_text="done: take the chart").first.wait_for(timeout=60_000)
    row_of(page, 2).wait_for(timeout=60_000)
    assert open_project(folder).chart == project.chart
