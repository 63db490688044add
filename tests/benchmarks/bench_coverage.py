"""How often what is used lies inside the planned interval: 2,000 simulated knitters for each line.

Run it as `python tests/benchmarks/bench_coverage.py`. Who these knitters are stands in
tests/helpers/coverage.py.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.results import Result
from tests.helpers.coverage import by_one_band, by_ruler, coverage

KNITTERS = 2_000
# How they measure, in words; how; and how often.
MEASURED = [
    ("by ruler", by_ruler, (0, 1, 3, 10)),
    ("by one band", by_one_band, (1, 5, 10)),
]


# Why it may be off, without and with measurements.
WHY_OFF = (
    "nothing was measured by hands that are not expected",
    "hands that are not expected, and all of their swatches share one band's error",
)
PROMISED, MOST_OFF = 90.0, 2.5  # of 100 supplies


def shares() -> Iterator[tuple[str, str, int, float, float]]:
    """Hands, how they measured and how often; the shares inside the interval, and too short."""
    for hands in ("expected", "unexpected"):
        for name, measure_by, counts in MEASURED:
            for count in counts:
                inside, short = coverage(count, hands, knitters=KNITTERS, measure=measure_by)
                yield hands, name, count, inside, short


def measure() -> list[Result]:
    """How often the next supply is inside its interval, of 100."""
    results = []
    for hands, name, count, inside, short in shares():
        off = abs(100 * inside - PROMISED)
        met, why = off <= MOST_OFF, f"too short {100 * short:.1f} times"
        if not met:
            why = f"{off:.1f} off: {WHY_OFF[bool(count)]}; {why}"
        results.append(
            Result(
                what=f"Hands {hands}, {count} measurements {name}: next supply in its interval",
                figure=100 * inside,
                unit="of 100",
                beside="promised",
                beside_figure=PROMISED,
                aim=f"{PROMISED:g} ± {MOST_OFF}",
                met=met,
                why=why,
            )
        )
    return results


def main():
    print(f"{'hands':>12}{'measured':>14}{'measurements':>14}{'inside 90 %':>13}{'too short':>11}")
    for hands, name, count, inside, short in shares():
        print(f"{hands:>12}{name:>14}{count:>14}{inside:>13.1%}{short:>11.1%}")


if __name__ == "__main__":
    main()
