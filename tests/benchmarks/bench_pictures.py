"""Times a large photograph on its way to a chart of 120 × 160, opening included, beside Pillow's
own reduction of colours.

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

STITCHES, ROWS, YARNS, GAUGE = 120, 160, 6, Gauge()


def photograph() -> bytes:
    """A JPEG of 6000 × 4000 pixels."""
    pixels = np.asarray(
        Image.fromarray(coffee()).resize((6000, 4000), Image.Resampling.BICUBIC)
    ).astype(np.int16)
    pixels = pixels + np.random.default_rng(1).integers(-12, 13, (4000, 6000, 1), dtype=np.int16)
    out = io.BytesIO()
    Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=90)
    return out.getvalue()


def timed(what: str, work):
    wall, busy = time.perf_counter(), time.process_time()
    answer = work()
    print(
        f"  {what}: {time.perf_counter() - wall:.2f} s ({time.process_time() - busy:.2f} s of the processor)"
    )
    return answer


def by_pillow(data: bytes, box_share) -> tuple[np.ndarray, np.ndarray]:
    """The same with Pillow alone: opened whole, cropped, reduced by averaging, a median cut; the
    means and the chosen colours."""
    with Image.open(io.BytesIO(data)) as image:
        box = tuple(share * side for share, side in zip(box_share, image.size * 2, strict=True))
        small = image.resize((STITCHES, ROWS), Image.Resampling.BOX, box=box)
    return np.asarray(small), np.asarray(
        small.quantize(YARNS, Image.Quantize.MEDIANCUT).convert("RGB")
    )


if __name__ == "__main__":
    data = photograph()
    print(
        f"A JPEG of 6000 × 4000 pixels, {len(data) / 1e6:.1f} MB, to {STITCHES} × {ROWS} in {YARNS} yarns"
    )

    def to_chart(flat=False):
        art = open_artwork(data, "photograph.jpg")
        return art, chart_picture(art, STITCHES, ROWS, GAUGE.aspect, count=YARNS, flat=flat)

    art, charted = timed("opened and charted as a photograph", to_chart)
    timed("the same, as what it looks like", lambda: to_chart(None))
    timed("the same, as flat art", lambda: to_chart(True))
    box = np.array(art.box(STITCHES, ROWS, GAUGE.aspect)) / (
        *art.pixels.shape[1::-1],
        *art.pixels.shape[1::-1],
    )
    means, cut = timed("by Pillow alone, with a median cut", lambda: by_pillow(data, box))
    theirs = np.linalg.norm(lab_of(means) - lab_of(cut), axis=-1)
    print(
        f"  far from the picture (mean ΔE*ab): {charted.difference.mean():.1f}; by Pillow {theirs.mean():.1f}"
    )
    levels = timed("tidied at every level", lambda: tidied(charted))
    print(timed("and compared", lambda: compare_levels(levels, gauge=GAUGE)).to_string())
