"""Times a large photograph on its way to a chart of 120 × 160, beside Pillow's own reduction.

Run it as `python tests/benchmarks/bench_pictures.py`. The target: less than 3 s on a computer that
does nothing else. The photograph is scikit-image's coffee cup (CC0) at ten times its size, grained
so that no two pixels are foreseeable.
"""

import io
import sys
import time
from pathlib import Path

import numpy as np
from PIL import Image
from skimage.data import coffee

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Gauge
from planner.charts.palette import lab_of
from planner.charts.picture import chart_picture, open_artwork
from planner.charts.tidying import compare_levels, tidied
from tests.benchmarks.results import Result
from tests.benchmarks.timing import timed

MOST_S, TIMES = 3.0, 3
STITCHES, ROWS, YARNS, GAUGE = 120, 160, 6, Gauge()


def photograph() -> bytes:
    """A JPEG of 6000 × 4000 pixels."""
    enlarged = Image.fromarray(coffee()).resize((6000, 4000), Image.Resampling.BICUBIC)
    random = np.random.default_rng(1)
    grain = random.integers(-12, 13, (4000, 6000, 1), dtype=np.int16)
    pixels = np.clip(np.asarray(enlarged).astype(np.int16) + grain, 0, 255)
    data = io.BytesIO()
    Image.fromarray(pixels.astype(np.uint8)).save(data, "JPEG", quality=90)
    return data.getvalue()


def by_pillow(data: bytes, box_share) -> tuple[np.ndarray, np.ndarray]:
    """The same with Pillow alone: the means of the cells, and their colours by a median cut.

    The picture is opened whole, cropped, and reduced by averaging.
    """
    with Image.open(io.BytesIO(data)) as image:
        box = tuple(share * side for share, side in zip(box_share, image.size * 2, strict=True))
        small = image.resize((STITCHES, ROWS), Image.Resampling.BOX, box=box)
    cut = small.quantize(YARNS, Image.Quantize.MEDIANCUT)
    return np.asarray(small), np.asarray(cut.convert("RGB"))


def to_chart(data: bytes, *, flat: bool | None = False):
    """The photograph opened, and charted as a photograph, as flat art, or as what it looks like."""
    art = open_artwork(data, "photograph.jpg")
    return art, chart_picture(art, STITCHES, ROWS, GAUGE.aspect, count=YARNS, flat=flat)


def box_of(art) -> np.ndarray:
    """The part of the picture that is charted, in shares of its sides."""
    width, height = art.pixels.shape[1::-1]
    return np.array(art.box(STITCHES, ROWS, GAUGE.aspect)) / (width, height, width, height)


def busy_s(work) -> float:
    """The shortest of several times, seconds of the processor."""
    seconds = []
    for _ in range(TIMES):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def measure() -> list[Result]:
    """The photograph charted in three ways, each beside Pillow's own reduction."""
    data = photograph()
    art, _ = to_chart(data)
    box = box_of(art)
    pillow_s = busy_s(lambda: by_pillow(data, box))
    results = []
    for way, flat in (("a photograph", False), ("what it looks like", None), ("flat art", True)):
        figure = busy_s(lambda flat=flat: to_chart(data, flat=flat))
        met = figure <= MOST_S
        results.append(
            Result(
                what=f"24 megapixels to a chart of {STITCHES} × {ROWS}, as {way}",
                figure=figure,
                unit="s of processor",
                beside="Pillow alone, with a median cut",
                beside_figure=pillow_s,
                aim=f"at most {MOST_S:g} s",
                met=met,
                why="" if met else f"{figure / MOST_S:.1f} times the aim",
            )
        )
    return results


def main():
    data = photograph()
    print(f"A JPEG of 6000 × 4000 pixels, {len(data) / 1e6:.1f} MB,")
    print(f"to {STITCHES} × {ROWS} in {YARNS} yarns")
    art, charted = timed("opened and charted as a photograph", lambda: to_chart(data))
    timed("the same, as what it looks like", lambda: to_chart(data, flat=None))
    timed("the same, as flat art", lambda: to_chart(data, flat=True))
    box = box_of(art)
    means, cut = timed("by Pillow alone, with a median cut", lambda: by_pillow(data, box))
    theirs = np.linalg.norm(lab_of(means) - lab_of(cut), axis=-1)
    print(f"  far from the picture (mean ΔE*ab): {charted.difference.mean():.1f}")
    print(f"  by Pillow: {theirs.mean():.1f}")
    levels = timed("tidied at every level", lambda: tidied(charted))
    table = timed("and compared", lambda: compare_levels(levels, gauge=GAUGE))
    print(table.to_string())


if __name__ == "__main__":
    main()
