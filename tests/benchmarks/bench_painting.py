"""How quickly painting answers: press to pixel at 200 × 300, stroke to headline at 150 × 150.

Run it as `python tests/benchmarks/bench_painting.py`. The second is measured in real JupyterLab.
"""

import shutil
import statistics
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.results import Result
from tests.conftest import CHROMIUM_OPTIONS, jupyterlab
from tests.helpers.painting_page import PaintingPage

# Notes how long each press waits until its stitch has the colour of yarn B, #cc2200.
WATCH = """
() => {
  const canvas = document.querySelector(".paper canvas");
  const ctx = canvas.getContext("2d");
  window.times = [];
  document.querySelector(".cloth").addEventListener("pointerdown", (event) => {
    const box = canvas.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const look = () => {
      const [r, g, b] = ctx.getImageData(x * devicePixelRatio, y * devicePixelRatio, 1, 1).data;
      const difference = Math.abs(r - 0xcc) + Math.abs(g - 0x22) + Math.abs(b);
      if (difference > 60) return requestAnimationFrame(look);
      window.times.push(performance.now() - event.timeStamp);
    };
    requestAnimationFrame(look);
  }, true);
}
"""


def press_to_pixel(browser) -> list[float]:
    """Milliseconds from each of 60 presses to its pixel."""
    page = browser.new_page(viewport={"width": 1400, "height": 1000})
    painting = PaintingPage(page, ["A" * 200] * 300, aspect=0.8)
    painting.choose("B yarn")
    # So that a stitch is larger than the line around it.
    for _ in range(6):
        page.get_by_role("button", name="Larger").click()
    page.evaluate(WATCH)
    box, rng = painting.cloth.bounding_box(), np.random.default_rng(5)
    for _ in range(60):
        x, y = rng.uniform(0.02, 0.95, 2)
        page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"])
        page.mouse.down()
        page.wait_for_timeout(60)
        page.mouse.up()
    times = page.evaluate("window.times")
    page.close()
    return times


def stroke_to_headline(browser, strokes: int = 20) -> tuple[list[float], str]:
    """Seconds from each stroke to its headline, and the last headline.

    A blotchy chart of 150 × 150 in six yarns is painted on through notebook 1.
    """
    with tempfile.TemporaryDirectory() as folder, jupyterlab(Path(folder)) as lab:
        chart = lab.root / "data" / "harbour-cushion" / "chart.csv"
        chart.write_text(blotches(150, 150, "NTKWRY"))
        page = browser.new_page(viewport={"width": 1400, "height": 1000})
        lab.open(page, "1-chart-and-gauge.ipynb")
        lab.run_all(page, "what you see is kept")
        page.wait_for_timeout(2000)
        cloth, headline = page.get_by_role("application"), page.locator("[data-stroke]")
        # No stitch: a stroke of it changes the chart wherever it falls.
        yarns = page.get_by_role("group", name="Yarn to put in")
        yarns.get_by_role("button", name="no stitch").click()
        times = []
        for i in range(1, strokes + 1):
            cloth.scroll_into_view_if_needed()
            box = cloth.bounding_box()
            # Strokes are strewn over the chart, but not on its very edge.
            across, down = (i * 37 % 90 + 5) / 100, (i * 53 % 90 + 5) / 100
            x, y = box["x"] + across * box["width"], box["y"] + down * box["height"]
            page.mouse.move(x, y)
            page.mouse.down()
            page.mouse.move(x + 40, y + 20, steps=8)
            start = time.perf_counter()
            page.mouse.up()
            page.locator(f'[data-stroke="{i}"]').wait_for(state="attached")
            times.append(time.perf_counter() - start)
            page.wait_for_timeout(600)
        return times, headline.inner_text()


def blotches(stitches: int, rows: int, letters: str) -> str:
    """A chart as a file, in blotches about eight stitches wide."""
    noise = np.random.default_rng(1).normal(size=(len(letters), rows, stitches))
    highest = ndimage.gaussian_filter(noise, (0, 4, 4)).argmax(axis=0)
    lines = [",".join(letters[cell] for cell in row) for row in highest.tolist()]
    return "\n".join(lines) + "\n"


@contextmanager
def chromium():
    """Debian's Chromium, without a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=CHROMIUM_OPTIONS
        )
        yield browser
        browser.close()


def measure() -> list[Result]:
    """Both, by the wall's clock, as a knitter waits for them."""
    with chromium() as browser:
        pixels_ms = statistics.median(press_to_pixel(browser))
        headlines, _ = stroke_to_headline(browser)
    return [
        Result(
            "Press → pixel, 200 × 300, median",
            pixels_ms,
            "ms",
            beside="a screen's own step, ms",
            beside_figure=1000 / 60,
        ),
        Result(
            "Stroke → headline in JupyterLab, 150 × 150, median", statistics.median(headlines), "s"
        ),
    ]


def main():
    with chromium() as browser:
        times = press_to_pixel(browser)
        median, longest = statistics.median(times), max(times)
        print(f"200 × 300, press to pixel, {len(times)} times: median {median:.0f} ms,")
        print(f"longest {longest:.0f} ms")
        times, headline = stroke_to_headline(browser)
        median, longest = statistics.median(times), max(times)
        print(f"150 × 150, stroke to headline: median {median:.2f} s, longest {longest:.2f} s")
        print(headline)


if __name__ == "__main__":
    main()
