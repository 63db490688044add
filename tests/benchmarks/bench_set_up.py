"""Kills a set-up at moments spread evenly over its course; each time the next one has to finish it.

Run it as `python tests/benchmarks/bench_set_up.py [KILLS]`; it needs no internet: the only package
lies beside the project. Then an environment is spoilt in other ways that must be mended.
"""

import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.set_up import finished, killed_after, small_project, works

PACKAGES = "lib/python*/site-packages"


def remove(root: Path, pattern: str) -> None:
    for path in (root / ".venv").glob(pattern):
        shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()


def dangle(root: Path) -> None:
    """The Python that the environment was made from has gone."""
    for python in (root / ".venv" / "bin").glob("python*"):
        python.unlink()
        python.symlink_to("/nowhere/python")


SPOILT = {
    "pip is missing": lambda root: remove(root, f"{PACKAGES}/pip*"),
    "Python has gone": dangle,
    "no mark of its own": lambda root: remove(root, "made"),
    "nothing but the marks": lambda root: [remove(root, name) for name in ("bin", "lib*")],
}


def main(kills: int):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "undisturbed"
        folder.mkdir()
        root = small_project(folder)
        start = time.perf_counter()
        finished(root)
        seconds = time.perf_counter() - start
        print(f"undisturbed: {seconds:.1f} s, works: {works(root)}")

        for what, spoil in SPOILT.items():
            spoil(root)
            finished(root)
            print(f"{what}: mended: {works(root)}", flush=True)

        at_work = whole = 0
        for number in range(kills):
            folder = Path(name) / f"kill-{number}"
            folder.mkdir()
            root = small_project(folder)
            at_work += killed_after(root, seconds * (number + 0.5) / kills)
            finished(root)
            whole += works(root)
            shutil.rmtree(folder)
        print(f"{kills} kills, {at_work} of them at work: {whole} finished by the next run")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
