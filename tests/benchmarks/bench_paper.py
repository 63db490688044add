"""Times the sheet, from the folder or the chart to its PDF, beside the same words as plain text.

Run it as `python tests/benchmarks/bench_paper.py`. The floor is Typst itself, which sets all words
of the sheet one after the other, without drawings, tables or tags. Both are on the wall's clock, as
a knitter waits; the plan is made anew each time.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import typst

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner import Project, make_plan, open_project
from planner.paper import sheet_pdf
from planner.paper.papers import A4
from planner.paper.sheet import content_of
from planner.paper.signs import font_folder
from planner.plan import Plan
from tests.benchmarks.bench_strands import chart_of
from tests.benchmarks.results import Result
from tests.benchmarks.timing import best_of

DEMO = Path(__file__).resolve().parents[2] / "data" / "harbour-cushion"
TIMES = 3
# What is made, and the most seconds that it may take.
PIECES: dict[str, tuple[Callable[[], Plan], float]] = {
    "the demo, 72 × 96": (lambda: make_plan(open_project(DEMO)), 2.0),
    "150 × 200": (lambda: make_plan(Project("150 × 200", chart_of("smooth", (150, 200)))), 5.0),
    "200 × 300": (lambda: make_plan(Project("200 × 300", chart_of("smooth", (200, 300)))), 10.0),
}
PLAIN = '#set text(font: "DejaVu Sans", size: 8pt)\n#sys.inputs.words'


def words_in(content: Any) -> Iterator[str]:
    """Every text of what is set, drawings left out."""
    if isinstance(content, str):
        yield "" if content.startswith("<svg") else content
    elif isinstance(content, dict):
        for value in content.values():
            yield from words_in(value)
    elif isinstance(content, list):
        for value in content:
            yield from words_in(value)


def set_plain(words: str) -> bytes:
    """The words as a PDF of plain text."""
    return typst.compile(
        PLAIN.encode(),
        font_paths=[str(font_folder())],
        ignore_system_fonts=True,
        sys_inputs={"words": words},
        format="pdf",
    )


def once(name: str) -> None:
    """Make one sheet and its floor; prints the seconds of both, and the bytes of the sheet."""
    make, _ = PIECES[name]
    sheet_s, pdf = best_of(1, lambda: sheet_pdf(make()))
    words = " ".join(words_in(content_of(make(), A4)))
    floor_s, _ = best_of(1, lambda: set_plain(words))
    print(sheet_s, floor_s, len(pdf))


def fresh(name: str) -> tuple[float, float, int]:
    """The shortest of several times of a sheet and of its floor, seconds, and its bytes."""
    # Typst remembers what it has set, so each is made in a Python of its own.
    times = []
    for _ in range(TIMES):
        made = subprocess.check_output([sys.executable, __file__, name], text=True)
        times.append([float(number) for number in made.split()])
    sheet_s, floor_s, size = map(min, zip(*times, strict=True))
    return sheet_s, floor_s, int(size)


def measure() -> list[Result]:
    """The sheet of three pieces, each beside the same words as plain text."""
    results = []
    for name, (_, most_s) in PIECES.items():
        sheet_s, floor_s, size = fresh(name)
        met = sheet_s <= most_s
        results.append(
            Result(
                what=f"Planned and set as a sheet, {name} ({size / 1e6:.1f} MB)",
                figure=sheet_s,
                unit="s",
                beside="the same words as plain text, by Typst",
                beside_figure=floor_s,
                aim=f"at most {most_s:g} s",
                met=met,
                why="" if met else f"{sheet_s - most_s:.1f} s more, beside other work",
            )
        )
    return results


def main() -> None:
    for result in measure():
        print(f"{result.what}: {result.figure:.2f} {result.unit}, floor {result.beside_figure:.2f}")


if __name__ == "__main__":
    if sys.argv[1:]:
        once(sys.argv[1])
    else:
        main()
