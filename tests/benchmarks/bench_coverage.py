"""How often what is used lies inside the planned interval: 2,000 simulated knitters for each line.

Run it as `python tests/benchmarks/bench_coverage.py`. Who these knitters are stands in
tests/helpers/coverage.py.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.coverage import by_one_band, by_ruler, coverage

KNITTERS = 2_000
# How they measure, in words; how; and how often.
MEASURED = [
    ("by ruler", by_ruler, (0, 1, 3, 10)),
    ("by one band", by_one_band, (1, 5, 10)),
]


def main():
    print(f"{'hands':>12}{'measured':>14}{'measurements':>14}{'inside 90 %':>13}{'too short':>11}")
    for hands in ("expected", "unexpected"):
        for name, measure, counts in MEASURED:
            for count in counts:
                inside, short = coverage(count, hands, knitters=KNITTERS, measure=measure)
                print(f"{hands:>12}{name:>14}{count:>14}{inside:>13.1%}{short:>11.1%}")


if __name__ == "__main__":
    main()
