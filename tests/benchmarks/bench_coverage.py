"""How often what is used lies inside the planned interval: 2,000 simulated knitters for each line.

Run it as `python tests/benchmarks/bench_coverage.py`. Who these knitters are stands in
tests/helpers/coverage.py.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.coverage import coverage

KNITTERS = 2_000


def main():
    print(f"{'hands':>12}{'measurements':>14}{'inside 90 %':>13}{'too short':>11}")
    for hands in ("expected", "unexpected"):
        for measurements in (0, 1, 3, 10):
            inside, short = coverage(measurements, hands, knitters=KNITTERS)
            print(f"{hands:>12}{measurements:>14}{inside:>13.1%}{short:>11.1%}")


if __name__ == "__main__":
    main()
