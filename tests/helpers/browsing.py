"""What the tests in real JupyterLab share: a piece of one's own, and what a page shows."""

import shutil

from planner.folder import choose_piece

# The news at the top of every notebook, where nothing is wrong.
ALL_RUN = "what you see is kept in the piece's folder"


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
