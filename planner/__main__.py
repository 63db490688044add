"""Sets the workbook up on a bare Python 3.11 or newer, then opens it, plans, or runs the tests.

python3 -m planner                    set up, and open the workbook in JupyterLab
python3 -m planner plan data/NAME     set up, print a piece's plan, write its tables and pictures
python3 -m planner test               set up, and run all tests
python3 -m planner refresh            set up, and run the notebooks anew so that they show what is
                                      current
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HOME = ROOT / ".venv"
PYTHON = HOME / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
CONSTRAINTS = ROOT / ".ci" / "constraints.txt"
WORKBOOK = ROOT / "requirements.txt"  # what the workbook runs on
TESTS = ROOT / "tests" / "requirements.txt"  # what its tests need beside that
# Bytes; the server's own limit of 10 MB is less than a photograph.
LARGEST_UPLOAD = 200 * 1024 * 1024
FIRST_NOTEBOOK = "notebooks/1-chart-and-gauge.ipynb"


def say(text: str) -> None:
    """Tell the knitter how far the set-up is."""
    print(f"planner: {text}", flush=True)


def set_up(*lists: Path) -> None:
    """Make the environment and install what these lists name, unless that has been done already."""
    if sys.version_info < (3, 11):  # noqa: UP036 (an older Python is just what this is for)
        version = sys.version.split()[0]
        sys.exit(
            f"planner: Python 3.11 or newer is needed; this is {version}. Install one and try "
            "again."
        )
    if not PYTHON.exists():
        make_environment()
    for path in lists:
        install(path)
    find_the_project()


def make_environment() -> None:
    """Make an environment of the project's own, with pip."""
    say("making an environment of its own in .venv …")
    try:
        venv.create(HOME, with_pip=True)
    except (subprocess.CalledProcessError, OSError) as error:
        sys.exit(
            f"planner: the environment could not be made ({error}). "
            "On Debian or Ubuntu: apt install python3-venv"
        )


def install(path: Path) -> None:
    """Install what a list names, unless the same list has been installed before."""
    wanted = hashlib.sha256(path.read_bytes() + CONSTRAINTS.read_bytes()).hexdigest()
    done = HOME / ("tests.sha256" if path == TESTS else "workbook.sha256")
    if done.exists() and done.read_text() == wanted:
        return
    what = "what the tests need" if path == TESTS else "JupyterLab and the other packages"
    say(f"installing {what}; the first time this takes some minutes …")
    pip = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check"]
    if follow([*pip, "--progress-bar", "off", "-r", str(path)]):
        sys.exit(
            "planner: the packages could not be installed. Is there a connection to the internet? "
            "Then run it once more."
        )
    done.write_text(wanted)
    say("set up.")


def find_the_project() -> None:
    """Let every notebook and script of the environment import planner, wherever it is run."""
    ask = "import sysconfig; print(sysconfig.get_path('purelib'))"
    site_packages = subprocess.check_output([str(PYTHON), "-c", ask], text=True).strip()
    pointer = Path(site_packages) / "planner.pth"
    if not pointer.exists() or pointer.read_text("utf-8").strip() != str(ROOT):
        pointer.write_text(f"{ROOT}\n", encoding="utf-8")


def follow(command: list[str]) -> int:
    """Run pip and say how far it is; what it says of trouble is passed on, the rest is not."""
    packages = 0
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as pip:
        for line in pip.stdout or ():
            if line.startswith("Collecting"):
                packages += 1
                if packages % 20 == 0:
                    say(f"{packages} packages found …")
            elif line.startswith("Installing collected"):
                say(f"installing {packages} packages …")
    return pip.returncode


def run(*arguments: str) -> int:
    """Run a module in the environment, from the project's own folder; returns its exit code."""
    try:
        return subprocess.call([str(PYTHON), "-m", *arguments], cwd=ROOT)
    except KeyboardInterrupt:
        return 130


def lab_options(root: Path) -> list[str]:
    """How JupyterLab is started.

    For this computer only, with the workbook's settings, and able to take a large photograph.
    """
    options = [
        "--ServerApp.ip=127.0.0.1",
        f"--LabApp.app_settings_dir={root / '.lab'}",
        f'--ServerApp.tornado_settings={{"websocket_max_message_size": {LARGEST_UPLOAD}}}',
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--allow-root")  # JupyterLab asks for it on machines that have no other user
    return options


def open_workbook(*more: str) -> int:
    """Open the first notebook in JupyterLab; `more` are options of JupyterLab's own."""
    set_up(WORKBOOK)
    say("opening the workbook; if no browser opens, go to the address printed below.")
    say("Stop with Ctrl-C.")
    first_page = f"--LabApp.default_url=/lab/tree/{FIRST_NOTEBOOK}"
    return run("jupyterlab", *lab_options(ROOT), first_page, *more)


def run_tests(*more: str) -> int:
    """The tests, then the notebooks against what they show; fails if either does.

    With `more`, pytest's own words, only what they say.
    """
    set_up(WORKBOOK, TESTS)
    if more:
        return run("pytest", "--quiet", *more)
    tests = run("pytest", "--quiet", "--numprocesses=auto")
    nbval = ("--nbval-lax", "--nbval-cell-timeout=120", "-p", "no:cacheprovider")
    notebooks = run("pytest", "--quiet", *nbval, "notebooks")
    return tests or notebooks


def print_plan(*folders: str) -> int:
    """Print a piece's plan; a folder may be named from where the knitter stands."""
    set_up(WORKBOOK)
    full = [str(Path(name).resolve()) if Path(name).exists() else name for name in folders]
    return run("planner.report", *full)


def refresh(*names: str) -> int:
    """Run the notebooks anew, those with one of these names in theirs or all."""
    set_up(WORKBOOK, TESTS)
    return run("planner.workbook.refresh", *names)


COMMANDS = {"open": open_workbook, "test": run_tests, "plan": print_plan, "refresh": refresh}


def main(arguments: list[str]) -> int:
    """Do what the command line says; returns the exit code."""
    command, *more = arguments or ["open"]
    if command in ("-h", "--help", "help"):
        print(__doc__)
        return 0
    if command not in COMMANDS:
        print(__doc__)
        say(f'"{command}" is none of these.')
        return 2
    return COMMANDS[command](*more)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
