"""The notebooks as a knitter opens them, in real JupyterLab: alive, calm, and never written."""

import json

import pytest

from tests.conftest import ROOT
from tests.helpers.folders import contents

pytestmark = pytest.mark.browser
OURS = json.loads((ROOT / ".lab" / "page_config.json").read_text("utf-8"))["workbookNotebooks"]
NOTEBOOKS = [place.removeprefix("notebooks/") for place in OURS]
FIRST = NOTEBOOKS[0]
# What may be seen of Python while its code is not asked for: nothing.
OF_CODE = ".jp-CodeCell :is(.jp-InputArea, .jp-Placeholder, .jp-OutputPrompt, .jp-Collapser)"
# Where a notebook is scrolled to, and which of its cells is the active one.
PLACE = """() => [
  document.querySelector(".jp-NotebookPanel .jp-WindowedPanel-outer").scrollTop,
  [...document.querySelectorAll(".jp-Cell")].findIndex(
    (cell) => cell.classList.contains("jp-mod-active")),
]"""
ERROR = '.jp-Cell [data-mime-type="application/vnd.jupyter.stderr"]'
# On a narrow window the list of files would take all the room.
WIDTHS = (1400, 820, 390, 1400, 820, 390)
NOTE = ".workbook-note"


def life(page, state):
    """The panel of the open notebook, once it is in this state."""
    page.wait_for_selector(f'.jp-NotebookPanel[data-life="{state}"]', timeout=60_000)


def menu(page, name, item):
    page.get_by_role("menuitem", name=name, exact=True).click()
    page.get_by_text(item, exact=True).click()


def shown(page, selector):
    return page.locator(selector).locator("visible=true").count()


def test_the_notebooks_of_the_workbook_are_meant():
    assert sorted(NOTEBOOKS) == sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))


def test_all_open_alive_and_calm_and_are_never_written(lab, page):
    """Each is opened, saved in three ways and closed: its file is as it was, byte for byte."""
    before = contents(lab.root / "notebooks")
    for name, width in zip(NOTEBOOKS, WIDTHS, strict=True):
        page.set_viewport_size({"width": width, "height": 900})
        lab.open(page, name)
        assert "Waking up" in page.locator(NOTE).inner_text()
        life(page, "awake")
        assert page.locator(NOTE).count() == 0
        assert page.evaluate(PLACE) == [0, 0]
        assert shown(page, ".jp-FileBrowser") == (width > 900)
        assert shown(page, OF_CODE) == 0
        assert shown(page, f"{ERROR}, .jp-cell-toolbar") == 0
        page.keyboard.press("Control+s")
        page.get_by_text("Nothing to save").first.wait_for()
        menu(page, "File", "Save Notebook")
        assert page.locator(".jp-mod-dirty").count() == 0
        menu(page, "File", "Close Tab")
        page.locator(".jp-NotebookPanel").wait_for(state="detached")
        assert page.locator(".jp-Dialog").count() == 0
    assert contents(lab.root / "notebooks") == before
    assert list((lab.root / "notebooks").glob(".ipynb_checkpoints/*")) == []


def test_it_wakes_again_beside_a_running_kernel_and_after_one_has_died(lab, page):
    lab.open(page, FIRST)
    life(page, "awake")
    page.reload()
    life(page, "awake")
    second = page.context.new_page()
    lab.open(second, FIRST)
    life(second, "awake")
    assert len(json.loads(lab.ask("kernels"))) == 1
    second.close()

    lab.kill_kernels()
    life(page, "asleep")
    lab.answer_dialog(page)  # JupyterLab says it, too
    assert "What you did is kept" in page.locator(NOTE).inner_text()
    page.get_by_role("button", name="Wake it up").click()
    life(page, "awake")

    # Ended by hand, as by the menu, and begun anew by JupyterLab's own Run All.
    lab.end_kernels()
    life(page, "asleep")
    page.get_by_role("button", name="Wake it up").click()
    life(page, "awake")
    assert page.locator(NOTE).count() == 0


def changed(lab, name, change):
    """A notebook of the test's JupyterLab, changed by hand."""
    path = lab.root / "notebooks" / name
    notebook = json.loads(path.read_text("utf-8"))
    change([cell for cell in notebook["cells"] if cell["cell_type"] == "code"])
    path.write_text(json.dumps(notebook), "utf-8")


def test_code_is_shown_when_it_is_asked_for_and_what_fails_is_said(lab, page):
    """Whatever the file says about its cells, and by JupyterLab's own words."""

    def spoilt(cells):
        for cell in cells:
            cell["metadata"] = {}
        cells[1]["source"] = ["raise ValueError('so it is')"]

    changed(lab, FIRST, spoilt)
    lab.open(page, FIRST)
    life(page, "stuck")
    assert "it says why" in page.locator(NOTE).inner_text()
    page.locator(ERROR, has_text="so it is").wait_for()
    assert shown(page, OF_CODE) == 0

    cells = page.locator(".jp-CodeCell").count()
    menu(page, "View", "Expand All Code")
    page.locator(".jp-CodeCell .jp-InputArea", has_text="open_piece").first.wait_for()
    assert shown(page, ".jp-CodeCell .jp-InputArea") == cells
    menu(page, "View", "Collapse All Code")
    page.locator(".jp-CodeCell .jp-InputArea").first.wait_for(state="detached")
    assert shown(page, OF_CODE) == 0


def test_a_copy_under_another_name_is_a_notebook_like_any_other(lab, page):
    """It does not run by itself, keeps what was shown and no dead widget, and can be saved."""
    lab.open(page, FIRST)
    life(page, "awake")
    page.keyboard.press("Control+Shift+s")
    page.locator(".jp-Dialog input").fill("notebooks/mine.ipynb")
    page.locator(".jp-Dialog .jp-mod-accept").click()
    page.get_by_role("tab", name="mine.ipynb").wait_for()
    page.locator(".jp-NotebookPanel:not([data-life]) .jp-CodeCell").first.wait_for()
    copy = lab.root / "notebooks" / "mine.ipynb"
    assert "application/vnd.jupyter.widget-view" not in copy.read_text("utf-8")
    assert "text/html" in copy.read_text("utf-8")
    page.locator(".jp-NotebookPanel:not([data-life]) .jp-MarkdownCell").first.click()
    page.keyboard.press("b")
    page.locator(".jp-mod-dirty").first.wait_for(state="attached")
    page.keyboard.press("Control+s")
    page.locator(".jp-mod-dirty").first.wait_for(state="detached")
    cells = json.loads(copy.read_text("utf-8"))["cells"]
    assert len(cells) == 1 + len(json.loads((ROOT / OURS[0]).read_text("utf-8"))["cells"])
