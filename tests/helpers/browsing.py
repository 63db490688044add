"""What the tests in real JupyterLab share: a piece of one's own, and what a page shows."""

import re
import shutil

from planner.folder import choose_piece

# The news at the top of every notebook, where nothing is wrong.
ALL_RUN = "what you see is kept in the piece's folder"
# The button that marks a row; headings speak of rows that are worked, too.
ROW_WORKED = re.compile("Row worked$")


def own_piece(lab, *notebooks):
    """The folder of a piece of the knitter's own, a copy of the demo, that all notebooks open."""
    data = lab.root / "data"
    folder = data / "my-cushion"
    shutil.copytree(data / "harbour-cushion", folder)
    choose_piece(data, folder.name)
    return folder


def row_of(page, row):
    """The card of a row, while it is the one on the needles."""
    return page.locator(".jupyter-widgets .row-card", has_text=f"Row {row} (").first


def gauge_box(page):
    """The first count of stitches, in the fold of the gauge."""
    page.get_by_role("button", name="Gauge:").click()
    return page.get_by_label("stitches", exact=True).first


class Hand:
    """A knitter's hand with a mouse, which counts how often it clicks."""

    def __init__(self, page):
        self.page, self.clicks = page, 0

    def press(self, name: str):
        """Press the button of this name, or one whose name begins so."""
        self.page.get_by_role("button", name=name).first.click(timeout=60_000)
        self.clicks += 1

    def choose_file(self, name: str, path):
        """Press a button that opens the computer's own window, and choose a file there."""
        with self.page.expect_file_chooser(timeout=60_000) as chooser:
            self.press(name)
        chooser.value.set_files(path)
        self.clicks += 1

    def open_from_the_list(self, notebook: str):
        """A double click on a notebook in the list of files at the side."""
        self.page.locator(".jp-DirListing-item", has_text=notebook).dblclick(timeout=60_000)
        self.clicks += 2
