"""Looks for inputs that go new ways through the readers, guided by which lines they reach.

Run it as `python tests/benchmarks/guided_inputs.py [--seconds 60] [--only READER]`. It needs the
package atheris, which is to be had for Linux; nothing else needs it, so it is in no list of
requirements. The target is that of `bench_inputs.py`: nothing but a PlanError escapes, and no input
takes more than two seconds.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import atheris

# What is imported here tells which of its lines are reached.
with atheris.instrument_imports(include=["planner", "tomllib", "tomlkit"]):
    from planner.errors import PlanError
    from tests.helpers.inputs import READERS, seeds

SLOW_S = 2  # of the processor
LONGEST = 3_000  # bytes of an input
MOST_MB = 1_500


def watch(name: str, seconds: int) -> None:
    """Look for what a reader lets escape, and print each kind once; ends this process."""
    folder = Path(tempfile.mkdtemp())
    sound, piece = folder / "sound", folder / "piece"
    sound.mkdir()
    piece.mkdir()
    for number, data in enumerate(seeds()[name]):
        (sound / str(number)).write_bytes(data)
    told = set()

    def read(data: bytes) -> None:
        before = time.process_time()
        escaped = ""
        try:
            READERS[name](data, piece)
        except PlanError:
            pass
        except Exception as error:
            escaped = f"{type(error).__name__}: {str(error)[:60]}"
        if time.process_time() - before > SLOW_S:
            escaped = escaped or "slow"
        if escaped and escaped not in told:
            told.add(escaped)
            print(f"  {name}: {escaped} from {data[:300]!r}", flush=True)

    limits = (f"-max_len={LONGEST}", f"-rss_limit_mb={MOST_MB}", "-timeout=30")
    words = ("-print_final_stats=1", "-verbosity=0", f"-max_total_time={seconds}")
    atheris.Setup([sys.argv[0], *limits, *words, str(sound)], read)
    atheris.Fuzz()


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--seconds", type=int, default=60, help="for each reader")
    words.add_argument("--only", choices=READERS, help="one reader")
    asked = words.parse_args()
    for name in [asked.only] if asked.only else READERS:
        print(name, flush=True)
        child = os.fork()
        if not child:
            watch(name, asked.seconds)
            os._exit(0)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
