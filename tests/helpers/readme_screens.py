"""The three screens that the README shows, taken anew from the workbook as it opens.

    python -m tests.helpers.readme_screens
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

from PIL import Image

from tests.benchmarks.bench_painting import chromium
from tests.conftest import jupyterlab
from tests.helpers.screens import come_alive

SHARED = Path(__file__).resolve().parents[2] / "shared"
SCREENS = {
    "1-chart-and-gauge.ipynb": "screen-chart.png",
    "3-yarn-plan.ipynb": "screen-yarn-plan.png",
    "5-choices.ipynb": "screen-choices.png",
}
WINDOW = {"width": 1240, "height": 860}
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
            png = page.locator(".jp-WindowedPanel-outer").screenshot()
            with Image.open(io.BytesIO(png)) as screen:
                few = screen.convert("RGB").quantize(COLOURS)
                few.save(SHARED / name, optimize=True)
            page.close()


if __name__ == "__main__":
    main()
