"""Sets the workbook up on a bare Python 3.11 or newer, then opens it, plans a piece, or runs the tests.

python3 -m planner                    set up, and open the workbook in JupyterLab
python3 -m planner plan data/NAME     set up, print a piece's plan and write its tables and pictures
python3 -m planner test               set up, and run all tests
python3 -m planner refresh            set up, and run the notebooks anew so that what they show is current
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
LARGEST_UPLOAD = (
    200 * 1024 * 1024
)  # bytes; 10 MB would be the server's own limit, less than a photograph
FIRST_NOTEBOOK = "notebooks/1-chart-and-gauge.ipynb"


def say(text: str):
    print(f"planner: {text}", flush=True)


def set_up():
    """Make the environment and install what is listed, unless that has been done for the same list."""
    if sys.version_info < (3, 11):  # noqa: UP036 (an older Python is just what this is for)
        sys.exit(
            f"planner: Python 3.11 or newer is needed; this is {sys.version.split()[0]}. Install one and try again."
        )
    listed = [ROOT / "requirements.txt", ROOT / ".ci" / "constraints.txt"]
    wanted = hashlib.sha256(b"".join(path.read_bytes() for path in listed)).hexdigest()
    done = HOME / "installed.sha256"
    if PYTHON.exists() and done.exists() and done.read_text() == wanted:
        return
    if not PYTHON.exists():
        say("making an environment of its own in .venv …")
        try:
            venv.create(HOME, with_pip=True)
        except (subprocess.CalledProcessError, OSError) as error:
            sys.exit(
                f"planner: the environment could not be made ({error}). On Debian or Ubuntu: apt install python3-venv"
            )
    say("installing JupyterLab and the other packages; the first time this takes some minutes …")
    pip = [
        str(PYTHON),
        "-m",
        "pip",
        "install",
        "--disable-pip-version-check",
        "--progress-bar",
        "off",
    ]
    if follow([*pip, "-r", "requirements.txt"]):
        sys.exit(
            "planner: the packages could not be installed. Is there a connection to the internet? Then run it once more."
        )
    done.write_text(wanted)
    say("set up.")


def follow(command: list[str]) -> int:
    """Run pip, saying how far it is instead of all it says; what it says of trouble is passed on."""
    packages = 0
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as pip:
        for line in pip.stdout:
            if line.startswith("Collecting"):
                packages += 1
                if packages % 20 == 0:
                    say(f"{packages} packages found …")
            elif line.startswith("Installing collected"):
                say(f"installing {packages} packages …")
    return pip.returncode


def run(*arguments: str) -> int:
    """Run a module in the environment, from the project's own folder."""
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    }
    try:
        return subprocess.call([str(PYTHON), "-m", *arguments], cwd=ROOT, env=environment)
    except KeyboardInterrupt:
        return 130


def lab_options(root: Path) -> list[str]:
    """How JupyterLab is started: for this computer only, with the workbook's settings, and able to take a large photograph."""
    options = [
        "--ServerApp.ip=127.0.0.1",
        f"--LabApp.app_settings_dir={root / '.lab'}",
        f'--ServerApp.tornado_settings={{"websocket_max_message_size": {LARGEST_UPLOAD}}}',
    ]
    return [*options, "--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else options


def open_workbook(*more: str) -> int:
    say(
        "opening the workbook; if no browser opens, go to the address printed below. Stop with Ctrl-C."
    )
    return run(
        "jupyterlab", *lab_options(ROOT), f"--LabApp.default_url=/lab/tree/{FIRST_NOTEBOOK}", *more
    )


def run_tests(*more: str) -> int:
    """The tests, then the notebooks against what they show; fails if either does."""
    if more:
        return run("pytest", "--quiet", *more)
    tests = run("pytest", "--quiet", "--numprocesses=auto")
    notebooks = run(
        "pytest",
        "--quiet",
        "--nbval-lax",
        "--nbval-cell-timeout=120",
        "-p",
        "no:cacheprovider",
        "notebooks",
    )
    return tests or notebooks


def main(arguments: list[str]) -> int:
    command, *more = arguments or ["open"]
    if command in ("-h", "--help", "help"):
        print(__doc__)
        return 0
    known = {
        "open": open_workbook,
        "test": run_tests,
        "plan": lambda *more: run(
            "planner.report", *[str(Path(x).resolve()) if Path(x).exists() else x for x in more]
        ),
        "refresh": lambda *more: run("planner.workbook.refresh", *more),
    }
    if command not in known:
        print(__doc__)
        say(f'"{command}" is none of these.')
        return 2
    set_up()
    return known[command](*more)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
