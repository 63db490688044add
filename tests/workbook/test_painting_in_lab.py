"""Painting in real JupyterLab: a stopped kernel, a page opened anew, and nothing lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.folder import read_chart
from tests.helpers.browsing import ALL_RUN, own_piece

pytestmark = pytest.mark.browser

NOTEBOOK = "1-chart-and-gauge.ipynb"
HEADLINE = ".painting [data-stroke]"


@pytest.fixture
def piece(lab) -> Path:
    """A piece of the knitter's own, which the notebook opens."""
    return own_piece(lab)


def paint(page, start, end):
    """A stroke with the pointer between two places, given as shares of the chart's size."""
    cloth = page.get_by_role("application")
    cloth.scroll_into_view_if_needed()
    box = cloth.bounding_box()
    (x0, y0), (x1, y1) = start, end
    page.mouse.move(box["x"] + x0 * box["width"], box["y"] + y0 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + x1 * box["width"], box["y"] + y1 * box["height"], steps=12)
    page.mouse.up()


def choose(page, name):
    yarns = page.get_by_role("group", name="Yarn to put in")
    yarns.get_by_role("button", name=name).click()


def wait_until_kept(page, stroke: int):
    page.locator(f'{HEADLINE}[data-stroke="{stroke}"]').wait_for(timeout=30_000)
    page.locator(".painting .kept", has_text="✓ kept").wait_for(timeout=30_000)


def undo(page):
    return page.get_by_role("button", name="Undo", exact=True)


def test_strokes_while_the_kernel_is_dead_are_offered_to_the_next(lab, page, piece):
    before = read_chart(piece / "chart.csv")
    lab.open(page, NOTEBOOK)
    lab.run_all(page, ALL_RUN)
    headline = page.locator(HEADLINE)
    as_opened = headline.inner_text()
    assert as_opened.startswith("33 strands · 66 ends")
    choose(page, "Rust")
    paint(page, (0.1, 0.95), (0.5, 0.9))  # a red line in the sea
    wait_until_kept(page, 1)
    heard = read_chart(piece / "chart.csv")
    assert heard != before
    assert headline.inner_text() != as_opened

    lab.kill_kernels()
    paint(page, (0.6, 0.95), (0.9, 0.9))
    page.get_by_role("alert").get_by_text("has stopped").wait_for(timeout=30_000)
    lab.answer_dialog(page)  # JupyterLab says it, too
    paint(page, (0.6, 0.85), (0.9, 0.8))
    lab.calm(page)
    assert read_chart(piece / "chart.csv") == heard

    lab.run_all(page, ALL_RUN)
    page.locator(".painting .offer", has_text="painted while nobody listened").wait_for()
    page.get_by_role("button", name="Put them in").click()
    wait_until_kept(page, 1)  # the first one of this kernel
    put_in = read_chart(piece / "chart.csv")
    assert (put_in.cells != heard.cells).sum() > 20
    painted = headline.inner_text()

    # Steps back outlive the page that is opened anew, and the kernel that was killed.
    page.reload()
    lab.run_all(page, ALL_RUN)
    assert headline.inner_text() == painted
    undo(page).click()
    wait_until_kept(page, 1)
    assert read_chart(piece / "chart.csv") == heard
    undo(page).click()
    wait_until_kept(page, 2)
    assert read_chart(piece / "chart.csv") == before
    assert headline.inner_text() == as_opened
    assert undo(page).is_disabled()
