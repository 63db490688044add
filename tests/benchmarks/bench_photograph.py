"""A photograph of 48 megapixels, until its preview is there, and the memory that takes.

Run it as `python tests/benchmarks/bench_photograph.py`. Each is done in a Python of its own, by
turns: opening the file, opening it as what it is and reading it, and, beside these, only decoding
its pixels as Pillow does. Memory is the most that the process held, all that was imported with it.
"""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.results import Result

ROOT = Path(__file__).resolve().parents[2]
SIZE = (8000, 6000)
TIMES = 3
MOST_S, MOST_MB = 2, 600
KB_IN_MB = 1024


def big_photograph() -> bytes:
    """A photograph of a chart, simulated small, and made as large as a camera's, with its grain."""
    import numpy as np
    from PIL import Image

    from tests.helpers.photographs import colours, patches, photographed

    rng = np.random.default_rng(48)
    taken = photographed(rng, patches(rng, 60, 48, 5), colours(rng, 5), size=(1600, 1200))
    image = Image.open(io.BytesIO(taken.data)).resize(SIZE, Image.Resampling.BICUBIC)
    grain = rng.normal(0, 6, (SIZE[1], SIZE[0])).astype(np.int16)
    pixels = np.asarray(image).astype(np.int16) + grain[..., None]
    file = io.BytesIO()
    Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(file, "JPEG", quality=90)
    return file.getvalue()


def opened(path: Path) -> None:
    from planner.charts import open_artwork

    open_artwork(path.read_bytes(), path.name)


def shown(path: Path) -> None:
    """As the form does it: what it is, the chart in it, its preview, and the picture to drag on."""
    from planner import Chart, Project
    from planner.charts import PictureSettings, aspect_of, open_file
    from planner.piece import Yarn
    from planner.workbook.framing import corner_frame
    from planner.workbook.previews import preview_html

    file = open_file(path.read_bytes(), path.name, {})
    project = Project("Piece", Chart.from_rows(["A"]))
    settings = PictureSettings(file.what, stitches=48, corners=file.corners)
    loaded = file.read(settings, project, {})
    yarns = {letter: Yarn(letter, colour=colour) for letter, colour in loaded.colours.items()}
    preview_html(loaded.chart, yarns, aspect_of(project), loaded.doubtful)
    corner_frame(file.art.pixels, file.corners)


def decoded(path: Path) -> None:
    from PIL import Image

    with Image.open(path) as image:
        image.load()


WAYS = {"opened": opened, "shown": shown, "decoded": decoded}


def in_this_python(way: str, path: Path) -> None:
    """Print the seconds that one way takes, and the most memory that was held."""
    # What is imported is there when a knitter chooses a file.
    import planner.charts.reading
    import planner.workbook.loading  # noqa: F401

    start = time.perf_counter()
    WAYS[way](path)
    seconds = time.perf_counter() - start
    print(json.dumps([seconds, most_held_mb()]))


def most_held_mb() -> float:
    """The most memory that this process has held."""
    # What `resource` says begins with what the process held that started this one.
    status = Path("/proc/self/status").read_text()
    (most_kb,) = re.findall(r"VmHWM:\s+(\d+) kB", status)
    return int(most_kb) / KB_IN_MB


def measured(way: str, path: Path) -> tuple[float, float]:
    """The shortest of several times, and the most memory of all."""
    seconds, memory = [], []
    for _ in range(TIMES):
        command = [sys.executable, __file__, way, str(path)]
        answer = json.loads(subprocess.check_output(command, cwd=ROOT, text=True))
        seconds.append(answer[0])
        memory.append(answer[1])
    return min(seconds), max(memory)


def measure() -> list[Result]:
    """Two lines a way: its time and its memory."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.jpg"
        path.write_bytes(big_photograph())
        floor_s, floor_mb = measured("decoded", path)
        results = []
        for way, what in (("opened", "opened"), ("shown", "chosen → what it is read as")):
            seconds, memory = measured(way, path)
            name = f"A photograph of {SIZE[0]:,} × {SIZE[1]:,} pixels {what}"
            results.append(_line(f"{name}, time", "s", seconds, floor_s, MOST_S))
            results.append(_line(f"{name}, memory", "MB", memory, floor_mb, MOST_MB))
    return results


def _line(what: str, unit: str, figure: float, floor: float, most: float) -> Result:
    is_met = figure <= most
    return Result(
        what=what,
        figure=figure,
        unit=unit,
        beside="its pixels decoded, and nothing else",
        beside_figure=floor,
        aim=f"at most {most} {unit}",
        met=is_met,
        why="" if is_met else f"{figure - most:.2f} {unit} more",
    )


if __name__ == "__main__":
    if len(sys.argv) == 3:
        in_this_python(sys.argv[1], Path(sys.argv[2]))
    else:
        for result in measure():
            print(f"{result.what}: {result.figure:.2f}, beside {result.beside_figure:.2f}")
