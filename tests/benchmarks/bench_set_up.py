"""Sets up from nothing to an open page; kills a set-up at any moment, and the next one finishes it.

Run it as `python tests/benchmarks/bench_set_up.py [KILLS]`. A copy of the project is set up in a
folder of its own as this computer's pip finds the packages; if they come over the network, once
more with all of them beside it, so that the difference is the network's. The kills need no
internet: the only package lies beside a project in small. Then an environment is spoilt in other
ways that must be mended.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import PathDistribution
from pathlib import Path

import psutil
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner.__main__ import FIRST_NOTEBOOK
from tests.benchmarks.results import Result
from tests.conftest import CHROMIUM_OPTIONS, PROJECT, ROOT, copy_project, free_port
from tests.helpers.set_up import finished, killed_after, small_project, works

PACKAGES = "lib/python*/site-packages"
KILLS, LARGEST, TOKEN = 4, 8, "for-this-run-only"
LONGEST_S = 1_200


@dataclass(frozen=True)
class Opened:
    """What it took to open the first page, in seconds, and the environment's packages."""

    set_up_s: float
    page_s: float
    megabytes: dict[str, float]


def project_in(folder: Path) -> Path:
    """The project as it is fetched, in a folder of its own."""
    root = folder / "project"
    copy_project(root, *PROJECT, ".ci")
    shutil.copy(ROOT / "requirements.txt", root)
    return root


def open_page(folder: Path, pip: dict[str, str]) -> Opened:
    """Run `python3 -m planner` in a copy of the project, until the first notebook is shown."""
    folder.mkdir()
    root, port = project_in(folder), free_port()
    environment = os.environ | pip | {"JUPYTER_TOKEN": TOKEN}
    # Nothing that JupyterLab keeps of this person is opened, and nothing is added to it.
    environment["HOME"] = str(folder)
    environment.pop("PIP_NO_CACHE_DIR", None)
    command = [sys.executable, "-m", "planner", "open", "--no-browser"]
    command.append(f"--ServerApp.port={port}")
    start = time.perf_counter()
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, cwd=root, env=environment, **quiet) as planner:
        try:
            mark = root / ".venv" / "workbook.sha256"
            while not mark.exists() and time.perf_counter() - start < LONGEST_S:
                assert planner.poll() is None, "the set-up has failed"
                time.sleep(0.05)
            set_up_s = time.perf_counter() - start
            show(f"http://127.0.0.1:{port}/lab/tree/{FIRST_NOTEBOOK}?token={TOKEN}")
            page_s = time.perf_counter() - start
        finally:
            # It waits for JupyterLab, which ends its kernels when it is asked to.
            for program in psutil.Process(planner.pid).children():
                program.terminate()
    return Opened(set_up_s, page_s, megabytes_of(root / ".venv"))


def show(address: str) -> None:
    """Wait until a browser shows a notebook at this address, its kernel there."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=CHROMIUM_OPTIONS
        )
        page = browser.new_page()
        for _ in range(600):
            try:
                page.goto(address)
                break
            except Exception:  # nobody listens yet
                time.sleep(0.1)
        page.get_by_text("Python 3 (ipykernel) | Idle").wait_for(timeout=120_000)
        browser.close()


def megabytes_of(environment: Path) -> dict[str, float]:
    """What each package takes on the disk."""
    sizes = {}
    for info in environment.glob(f"{PACKAGES}/*.dist-info"):
        package = PathDistribution(info)
        sizes[package.metadata["Name"]] = sum(file.size or 0 for file in package.files or ()) / 1e6
    return sizes


def size_of(folder: Path) -> float:
    """Megabytes of a file, or of all files in a folder."""
    files = [folder] if folder.is_file() else folder.rglob("*")
    return sum(path.stat().st_size for path in files if path.is_file()) / 1e6


def fetch(root: Path, wheels: Path, cache: Path) -> bool:
    """Fetch all packages into a folder; whether any of them came over the network.

    What comes over the network is left in pip's cache, what lies on this computer's disk is not.
    """
    pip = [sys.executable, "-m", "pip", "download", "--quiet", "-d", str(wheels)]
    command = [*pip, "-r", str(root / "requirements.txt")]
    subprocess.run(command, env=os.environ | {"PIP_CACHE_DIR": str(cache)}, check=True)
    # Answers about what there is are in the cache too; packages are larger.
    return size_of(cache) > size_of(wheels) / 2


def largest_of(sizes: dict[str, float]) -> str:
    """The largest packages, in words."""
    largest = sorted(sizes.items(), key=lambda item: -item[1])[:LARGEST]
    return "the largest: " + ", ".join(f"{name} {size:.0f}" for name, size in largest)


def from_nothing(place: Path) -> list[Result]:
    """From nothing to an open page, and how much there is to fetch and to keep."""
    root, wheels = project_in(place), place / "wheels"
    over_the_network = fetch(root, wheels, place / "cache")
    sizes = {path.name.split("-")[0]: size_of(path) for path in wheels.iterdir()}
    load = f"by the clock; {os.getloadavg()[0]:.1f} programs wanted the cores when it began"
    opened = open_page(place / "first", {"PIP_CACHE_DIR": str(place / "cache of the first")})
    page = {"why": f"{load}; the network's part is not in it: pip has the packages on its disk"}
    packages = {}
    if over_the_network:
        beside_it = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(wheels)}
        again = open_page(place / "again", beside_it)
        beside = "the same, all packages beside it"
        page = {"beside": beside, "beside_figure": again.page_s, "why": load}
        packages = {"beside": beside, "beside_figure": again.set_up_s}
    return [
        Result("python3 -m planner, from nothing to an open page", opened.page_s, "s", **page),
        Result("of that, the packages", opened.set_up_s, "s", **packages),
        Result("to be downloaded", sum(sizes.values()), "MB", why=largest_of(sizes)),
        Result("installed", sum(opened.megabytes.values()), "MB", why=largest_of(opened.megabytes)),
    ]


def remove(root: Path, pattern: str) -> None:
    for path in (root / ".venv").glob(pattern):
        shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()


def dangle(root: Path) -> None:
    """The Python that the environment was made from has gone."""
    for python in (root / ".venv" / "bin").glob("python*"):
        python.unlink()
        python.symlink_to("/nowhere/python")


SPOILT: dict[str, Callable[[Path], object]] = {
    "pip is missing": lambda root: remove(root, f"{PACKAGES}/pip*"),
    "Python has gone": dangle,
    "no mark of its own": lambda root: remove(root, "made"),
    "nothing but the marks": lambda root: [remove(root, name) for name in ("bin", "lib*")],
}


def kills(place: Path, count: int) -> Result:
    """Set-ups killed at moments spread evenly over their course: how many the next run finishes."""
    folder = place / "undisturbed"
    folder.mkdir()
    root = small_project(folder)
    start = time.perf_counter()
    finished(root)
    seconds = time.perf_counter() - start
    at_work = whole = 0
    for number in range(count):
        folder = place / f"kill-{number}"
        folder.mkdir()
        root = small_project(folder)
        at_work += killed_after(root, seconds * (number + 0.5) / count)
        finished(root)
        whole += works(root)
        shutil.rmtree(folder)
    what = f"{count} set-ups killed, {at_work} of them at work: finished by the next run"
    return Result(what, whole, "of them", aim="all", met=whole == count)


def mended(place: Path) -> Result:
    """Environments spoilt in other ways: how many of them the next run mends."""
    folder = place / "spoilt"
    folder.mkdir()
    root = small_project(folder)
    finished(root)
    whole = 0
    for spoil in SPOILT.values():
        spoil(root)
        finished(root)
        whole += works(root)
    what = f"environments spoilt ({', '.join(SPOILT)}): mended"
    return Result(what, whole, "of them", aim="all", met=whole == len(SPOILT))


def measure(count: int = KILLS) -> list[Result]:
    """From nothing to an open page; then set-ups that are killed, and spoilt environments."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        return [*from_nothing(place), kills(place, count), mended(place)]


def main(count: int):
    for result in measure(count):
        beside = f"  ({result.beside}: {result.beside_figure:.1f})" if result.beside else ""
        print(f"{result.what}: {result.figure:.1f} {result.unit}{beside}  {result.why}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
