"""What the tests in real JupyterLab share: a piece of one's own, and what a page shows."""

import shutil

# The last form of every notebook: when it is there, all cells have run.
ALL_RUN = "Go back to this version"


def own_piece(lab, *notebooks):
    """The folder of a piece of the knitter's own, a copy of the demo, that the notebooks open."""
    folder = lab.root / "data" / "my-cushion"
    shutil.copytree(lab.root / "data" / "harbour-cushion", folder)
    for name in notebooks:
        notebook = lab.root / "notebooks" / name
        source = notebook.read_text(encoding="utf-8")
        assert '\\"harbour-cushion\\"' in source
        changed = source.replace('\\"harbour-cushion\\"', '\\"my-cushion\\"')
        notebook.write_text(changed, encoding="utf-8")
    return folder


def row_of(page, row):
    """The card of a row, while it is the one on the needles."""
    return page.locator(".jupyter-widgets .row-card", has_text=f"Row {row} (").first
