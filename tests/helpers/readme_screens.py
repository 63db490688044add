"""The pictures that the README shows, taken anew: screens as they open, cards on paper and phone.

python -m tests.helpers.readme_screens
"""

from __future__ import annotations

import io
import tempfile
from dataclasses import replace
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser

from planner import make_plan
from planner.paper import cards_page, sheet_pdf
from tests.benchmarks.bench_painting import chromium
from tests.conftest import jupyterlab
from tests.helpers import printed
from tests.helpers.choices import worked_through
from tests.helpers.plans import demo
from tests.helpers.screens import come_alive

SHARED = Path(__file__).resolve().parents[2] / "shared"
SCREENS = {
    "1-chart-and-gauge.ipynb": "screen-chart.png",
    "3-yarn-plan.ipynb": "screen-yarn-plan.png",
    "5-choices.ipynb": "screen-choices.png",
}
WINDOW = {"width": 1240, "height": 860}
PHONE = {"width": 390, "height": 844}
# The row in which most hangs, on the needles of whoever has worked the rows before it.
BUSY_ROW = 35
CARDS_DPI = 70
COLOURS = 96  # plenty for flat areas, and small


def main() -> None:
    """Take the screens and write them to the shared folder."""
    with (
        tempfile.TemporaryDirectory() as folder,
        jupyterlab(Path(folder)) as lab,
        chromium() as browser,
    ):
        for notebook, name in SCREENS.items():
            page = browser.new_page(viewport=WINDOW)
            come_alive(lab, page, notebook)
            page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTop = 0")
            page.wait_for_timeout(1_000)
            # The notebook without what JupyterLab has around it.
            keep(page.locator(".jp-WindowedPanel-outer").screenshot(), name)
            page.close()
        keep(cards_on_paper(), "harbour-cushion-cards.png")
        keep(cards_on_a_phone(browser, Path(folder)), "harbour-cushion-phone.png")


def keep(png: bytes, name: str) -> None:
    """Write a picture to the shared folder, in few colours."""
    with Image.open(io.BytesIO(png)) as picture:
        few = picture.convert("RGB").quantize(COLOURS)
        few.save(SHARED / name, optimize=True)


def cards_on_paper() -> bytes:
    """The page of the sheet with the card of the busy row, as a PNG."""
    pdf = sheet_pdf(demo())
    pages = printed.texts(pdf)
    card = next(number for number, text in enumerate(pages, 1) if f"Row {BUSY_ROW} (" in text)
    return printed.png(pdf, card, CARDS_DPI)


def cards_on_a_phone(browser: Browser, folder: Path) -> bytes:
    """The cards page at the busy row, as a PNG."""
    plan = demo()
    begun = replace(plan.project, progress=worked_through(plan, BUSY_ROW - 1))
    file = folder / "cards.html"
    file.write_bytes(cards_page(make_plan(begun)))
    page = browser.new_page(viewport=PHONE)
    page.goto(file.as_uri())
    return page.screenshot()


if __name__ == "__main__":
    main()
