"""How quickly painting answers: press to pixel at 200 × 300, stroke to headline at 150 × 150.

The second is measured in real JupyterLab.

Run from the project's folder: python tests/benchmarks/bench_painting.py
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.conftest import CHROMIUM_OPTIONS, jupyterlab
from tests.helpers.painting_page import PaintingPage

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
      const apart = Math.abs(r - 0xcc) + Math.abs(g - 0x22) + Math.abs(b);
      if (apart > 60) return requestAnimationFrame(look);
      window.times.push(performance.now() - event.timeStamp);
    };
    requestAnimationFrame(look);
  }, true);
}
"""


def press_to_pixel(browser) -> list[float]:
    page = browser.new_page(viewport={"width": 1400, "height": 1000})
    on = PaintingPage(page, ["A" * 200] * 300, aspect=0.8)
    on.choose("B yarn")
    for _ in range(6):  # so that a stitch is larger than the line around it
        page.get_by_role("button", name="Larger").click()
    page.evaluate(WATCH)
    box, rng = on.cloth.bounding_box(), np.random.default_rng(5)
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
    """A blotchy chart of 150 × 150 in six yarns, painted on through notebook 1."""
    with tempfile.TemporaryDirectory() as folder, jupyterlab(Path(folder)) as lab:
        noise = ndimage.gaussian_filter(
            np.random.default_rng(1).normal(size=(6, 150, 150)), (0, 4, 4)
        ).argmax(0)
        rows = "\n".join(",".join("NTKWRY"[c] for c in row) for row in noise.tolist())
        (lab.root / "data/harbour-cushion/chart.csv").write_text(rows + "\n")
        page = browser.new_page(viewport={"width": 1400, "height": 1000})
        lab.open(page, "1-chart-and-gauge.ipynb")
        lab.run_all(page, "Keep these settings")
        page.wait_for_timeout(2000)
        cloth, times, said = page.get_by_role("application"), [], page.locator("[data-stroke]")
        page.get_by_role("group", name="Yarn to put in").get_by_role(
            "button", name="no stitch"
        ).click()  # changes any place
        for i in range(1, strokes + 1):
            cloth.scroll_into_view_if_needed()
            box = cloth.bounding_box()
            x, y = (
                box["x"] + (i * 37 % 90 + 5) / 100 * box["width"],
                box["y"] + (i * 53 % 90 + 5) / 100 * box["height"],
            )
            page.mouse.move(x, y)
            page.mouse.down()
            page.mouse.move(x + 40, y + 20, steps=8)
            start = time.perf_counter()
            page.mouse.up()
            page.locator(f'[data-stroke="{i}"]').wait_for(state="attached")
            times.append(time.perf_counter() - start)
            page.wait_for_timeout(600)
        return times, said.inner_text()


if __name__ == "__main__":
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=CHROMIUM_OPTIONS
        )
        times = press_to_pixel(browser)
        median, longest = statistics.median(times), max(times)
        print(f"200 × 300, press to pixel, {len(times)} times: median {median:.0f} ms,")
        print(f"longest {longest:.0f} ms")
        times, said = stroke_to_headline(browser)
        median, longest = statistics.median(times), max(times)
        print(f"150 × 150, stroke to headline: median {median:.2f} s, longest {longest:.2f} s")
        print(said)
        browser.close()
