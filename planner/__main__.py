"""Sets the workbook up on a bare Python 3.11 or newer, then opens it, plans, or runs the tests.

python3 -m planner                    set up, and open the workbook in JupyterLab; options of
                                      JupyterLab may follow, such as --no-browser --port=8899
python3 -m planner open               the same
python3 -m planner plan data/NAME     set up, print a piece's plan, write its tables and pictures
python3 -m planner sheet data/NAME    set up, write a piece's plan as a PDF to print (A4, or
                                      --paper letter) and its row cards as a page for a phone
python3 -m planner pattern data/NAME  set up, write a piece as a pattern for others, as PDF and as
                                      plain text (A4, or --paper letter)
python3 -m planner handout data/NAME  set up, write a handout for a class in the gauge of a piece,
                                      as PDF and as plain text (A4, or --paper letter; for 8
                                      students, or --students 12)
python3 -m planner test               set up, and run all tests; or those that are named, in
                                      pytest's own words
python3 -m planner refresh            set up, and run the notebooks anew so that they show what is
                                      current; or those with a word in their names
python3 -m planner --help             this
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
import venv
from collections.abc import Sequence
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parents[1]
HOME = ROOT / ".venv"
PYTHON = HOME / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
CONSTRAINTS = ROOT / ".ci" / "constraints.txt"
WORKBOOK = ROOT / "requirements.txt"  # what the workbook runs on
TESTS = ROOT / "tests" / "requirements.txt"  # what its tests need beside that
# What has been installed from each list; the first also of an environment that has no other mark.
INSTALLED = {WORKBOOK: HOME / "workbook.sha256", TESTS: HOME / "tests.sha256"}
MADE = HOME / "made"  # written when the environment is whole and its pip answers
INSTALLING = HOME / "installing"  # there while pip is at work, and after it was cut off
TOLD_TO_END = 128 + 15  # the exit code after SIGTERM, as a shell has it
LONGEST_TO_END_S = 10  # for what is told to end, before it is ended
# Bytes; the server's own limit of 10 MB is less than a photograph.
LARGEST_UPLOAD = 200 * 1024 * 1024
FIRST_NOTEBOOK = "notebooks/1-chart-and-gauge.ipynb"
# Left out of the list of files, so that notebooks and data are seen; dotted ones are never served.
HIDDEN = ("planner", "tests", "shared", "__pycache__", "DEVELOPERS.md", "requirements.txt")
# Tests and the notebooks as committed show the demo itself, not a knitter's copy of it.
SHOW_THE_DEMO = {"PLANNER_DEMO": "1"}

# What pip says if it gets no answer, if it gets one, if what it wants does not exist for this
# computer, if it is not what it should be, and if there is no room for it.
NO_ANSWER = (
    r"NewConnectionError|ConnectionError|ConnectTimeout|ReadTimeout|ProtocolError|ProxyError|"
    r"SSLError|Max retries exceeded|connection broken|name resolution|getaddrinfo|timed out"
)
ANSWERED = r"from versions: (?!none)|require a different python version"
REFUSED = (
    r"No matching distribution found for (\S+)|ResolutionImpossible|"
    r"Package '(\S+)' requires a different Python"
)
OTHER_CONTENT = r"DO NOT MATCH THE HASHES|BadZipFile|has an invalid wheel"
NO_ROOM = r"No space left on device|Errno 28|Disk quota exceeded|not enough space on the disk"


def say(text: str) -> None:
    """Tell the knitter how far the set-up is."""
    print(f"planner: {text}", flush=True)


def set_up(*lists: Path) -> None:
    """Make the environment and install what these lists name, unless that has been done already.

    It may be cut off at any moment: the next time it takes up what is whole, and does the rest.
    """
    if sys.version_info < (3, 11):  # noqa: UP036 (an older Python is just what this is for)
        version = sys.version.split()[0]
        sys.exit(
            f"planner: Python 3.11 or newer is needed; this is {version}. Install one and try "
            "again."
        )
    packages = whole_environment()
    if INSTALLING.exists():
        forget_what_is_half_installed(packages)
    for path in lists:
        install(path, packages)
    find_the_project(packages)


def whole_environment() -> Path:
    """Where the environment keeps its packages, once it has been made or mended."""
    # Before there was a mark, what was installed told that there is an environment.
    if not (MADE.exists() or INSTALLED[WORKBOOK].exists()):
        make_environment("making an environment of its own in .venv …")
    where = "import pip, sysconfig; print(sysconfig.get_path('purelib'))"
    packages = ask("-c", where)
    if packages is None:
        # Lost by itself, pip comes back without the internet, and the rest stays. If this is cut
        # off, there are no marks, and the environment is made anew.
        forget(MADE, *INSTALLED.values())
        ask("-m", "ensurepip")
        packages = ask("-c", where)
    if packages is None:
        make_environment("the environment in .venv does not work any more; making it anew …")
        packages = ask("-c", where)
    if packages is None:
        sys.exit(f"planner: the environment does not work. Delete the folder {HOME}, try again.")
    MADE.touch()
    return Path(packages)


def make_environment(why: str) -> None:
    """Make an environment of the project's own, with pip, in place of what there is of one."""
    say(why)
    try:
        # The marks go first: what is deleted in part must not count as made.
        forget(MADE, *INSTALLED.values(), INSTALLING)
        venv.create(HOME, with_pip=True, clear=HOME.exists())
    except (subprocess.CalledProcessError, OSError) as error:
        sys.exit(
            f"planner: the environment could not be made ({error}). "
            "On Debian or Ubuntu: apt install python3-venv"
        )


def forget(*marks: Path) -> None:
    """Take marks away, those that are there."""
    for mark in marks:
        mark.unlink(missing_ok=True)


def ask(*arguments: str) -> str | None:
    """What the environment's Python prints; None if it fails, or there is none that runs."""
    command = [str(PYTHON), "-X", "utf8", *arguments]
    try:
        answer = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    except OSError:
        return None
    return None if answer.returncode else answer.stdout.strip()


def forget_what_is_half_installed(packages: Path) -> None:
    """After pip was cut off: let it install anew what is not whole.

    To pip a package is there once its list of files is, even if some of these are not.
    """
    say("the last time this was cut off; looking through what is there …")
    forget(*INSTALLED.values())
    for package in packages.glob("*.dist-info"):
        if not is_whole(package):
            shutil.rmtree(package)
    # So pip names what it has put aside to take out.
    for aside in packages.glob("~*"):
        shutil.rmtree(aside, ignore_errors=True)


def is_whole(package: Path) -> bool:
    """Whether a package has all files on its list, each as long as it should be."""
    try:
        with open(package / "RECORD", encoding="utf-8", newline="") as record:
            for name, _, size in csv.reader(record):
                if size and (package.parent / name).stat().st_size != int(size):
                    return False
    except (OSError, ValueError):
        return False
    return True


def install(path: Path, packages: Path) -> None:
    """Install what a list names, unless the same list has been installed before."""
    # Another Python has other packages, in a folder of another name.
    kind = packages.parent.name.encode()
    wanted = hashlib.sha256(path.read_bytes() + CONSTRAINTS.read_bytes() + kind).hexdigest()
    done = INSTALLED[path]
    if done.exists() and done.read_text() == wanted:
        return
    what = "what the tests need" if path == TESTS else "JupyterLab and the other packages"
    say(f"installing {what}; the first time this takes some minutes …")
    INSTALLING.touch()
    pip = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check"]
    failed, lines = follow([*pip, "--progress-bar", "off", "-r", str(path)])
    if failed:
        print(*(line for line in lines if line.startswith("ERROR")), sep="\n", flush=True)
        sys.exit(f"planner: {why_not_installed(lines)}")
    done.write_text(wanted)
    # Two that set up at once have this one mark, and the first that is done takes it.
    forget(INSTALLING)
    say("set up.")


def find_the_project(packages: Path) -> None:
    """Let every notebook and script of the environment import planner, wherever it is run."""
    pointer = packages / "planner.pth"
    if not pointer.exists() or pointer.read_text("utf-8").strip() != str(ROOT):
        pointer.write_text(f"{ROOT}\n", encoding="utf-8")


def follow(command: list[str]) -> tuple[int, list[str]]:
    """Run pip and say how far it is; its exit code, and all that it said."""
    found = 0
    lines = []
    with subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    ) as pip:
        for line in pip.stdout or ():
            lines.append(line.rstrip())
            if line.startswith("Collecting"):
                found += 1
                if found % 20 == 0:
                    say(f"{found} packages found …")
            elif line.startswith("Installing collected") and found:
                say(f"installing {found} packages …")
            elif "Retry(total=4" in line:
                say("no answer from the internet yet; trying again …")
    return pip.returncode, lines


def why_not_installed(lines: list[str]) -> str:
    """Why pip has failed, by what it said, and what to do, in words."""
    words = "\n".join(lines)
    version = sys.version.split()[0]
    if re.search(NO_ROOM, words):
        return (
            "the disk is full. Make room for about 1.5 GB, then run it once more: it goes on where "
            "it was."
        )
    if re.search(OTHER_CONTENT, words):
        return (
            "a package arrived damaged, or is not the one that was tested. Run it once more; if it "
            "says so again, use another connection to the internet."
        )
    # Without an answer pip says as well that there is no such package, but of no version at all.
    refused = re.search(REFUSED, words)
    answered = re.search(ANSWERED, words)
    if refused and (answered or "from versions: none" not in words):
        package = refused[1] or refused[2] or "one of the packages"
        return (
            f"the internet can be reached, but there is no {package} for Python {version} on this "
            "computer. Install another Python from 3.11 to 3.13, delete the folder .venv, and run "
            "it once more with that."
        )
    if refused or re.search(NO_ANSWER, words):
        return (
            "the packages could not be fetched: there is no connection to the internet, or it was "
            "lost, or this network lets nothing through from pypi.org. Connect and run it once "
            "more: it goes on where it was."
        )
    return (
        "the packages could not be installed; the reason is above. Run it once more; if it says "
        "the same again, delete the folder .venv first."
    )


def run(*arguments: str, **environment: str) -> int:
    """Run a module in the environment, from the project's own folder; returns its exit code.

    It ends when this is told to end, and before this does.
    """
    command = [str(PYTHON), "-m", *arguments]

    def told_to_end(_: int, at: FrameType | None) -> None:
        raise SystemExit

    # By itself the signal would end this at once, and leave alone what runs.
    before = signal.signal(signal.SIGTERM, told_to_end)
    try:
        with subprocess.Popen(command, cwd=ROOT, env={**os.environ, **environment}) as module:
            try:
                return module.wait()
            except (KeyboardInterrupt, SystemExit) as told:
                end(module)
                return 130 if isinstance(told, KeyboardInterrupt) else TOLD_TO_END
    finally:
        signal.signal(signal.SIGTERM, before)


def end(module: subprocess.Popen[bytes]) -> None:
    """Tell a module to end, and see to it that it does."""
    module.terminate()
    try:
        module.wait(LONGEST_TO_END_S)
    except subprocess.TimeoutExpired:
        module.kill()


def lab_options(root: Path) -> list[str]:
    """How JupyterLab is started, whatever this computer's own settings for it are.

    For this computer only, without terminals, asking the internet for nothing, with the workbook's
    settings, and able to take a large photograph. Its token is JupyterLab's own.
    """
    options = [
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.allow_remote_access=False",
        "--ServerApp.terminals_enabled=False",
        f"--ServerApp.root_dir={root}",
        "--ContentsManager.allow_hidden=False",
        f"--ContentsManager.hide_globs={list(HIDDEN)}",
        "--LabApp.extension_manager=readonly",  # the other one asks for all there are
        "--LabApp.news_url=None",
        f"--LabApp.app_settings_dir={root / '.lab'}",
        # The notebooks run by themselves when they are opened, and are never written.
        f"--LabApp.extra_labextensions_path={root / '.lab' / 'labextensions'}",
        "--ServerApp.contents_manager_class=planner.workbook.views.NotebooksAsViews",
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
    """The tests, and the notebooks against what they show, on all cores.

    With `more`, pytest's own words, only what they say.
    """
    set_up(WORKBOOK, TESTS)
    if more:
        return run("pytest", "--quiet", *more, **SHOW_THE_DEMO)
    cores = "--numprocesses=auto"
    tests = run("pytest", "--quiet", cores, **SHOW_THE_DEMO)
    # The cells of a notebook go one after the other, so a notebook goes whole to one core.
    nbval = ("--nbval-lax", "--nbval-cell-timeout=120", "-p", "tests.helpers.notebooks")
    cells = (cores, "--dist=loadfile", *nbval, "-p", "no:cacheprovider", "notebooks")
    return run("pytest", "--quiet", *cells, **SHOW_THE_DEMO) or tests


def print_plan(*folders: str) -> int:
    """Print a piece's plan; a folder may be named from where the knitter stands."""
    set_up(WORKBOOK)
    full = [str(Path(name).resolve()) if Path(name).exists() else name for name in folders]
    return run("planner.report", *full)


def make_sheet(*words: str) -> int:
    """Write a piece's plan as a PDF to print; a folder may be named from where one stands."""
    return on_paper("sheet", words)


def make_pattern(*words: str) -> int:
    """Write a piece as a pattern for others; a folder may be named from where one stands."""
    return on_paper("pattern", words)


def make_handout(*words: str) -> int:
    """Write a handout for a class; a folder may be named from where one stands."""
    return on_paper("handout", words, students=8)


def on_paper(what: str, words: Sequence[str], *, students: int | None = None) -> int:
    """Have the sheet, the pattern or the handout of a piece written, as the words ask for it.

    `students` are how many a handout is for where the words do not say; None where none is asked.
    """
    parser = argparse.ArgumentParser(f"python3 -m planner {what}")
    parser.add_argument("piece", metavar="data/NAME")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4")
    if students is not None:
        parser.add_argument("--students", type=int, default=students)
    asked = parser.parse_args(words)
    set_up(WORKBOOK)
    piece = asked.piece
    full = str(Path(piece).resolve()) if Path(piece).exists() else piece
    many = [] if students is None else [str(asked.students)]
    return run("planner.report", f"--{what}", asked.paper, *many, full)


def refresh(*names: str) -> int:
    """Run the notebooks anew, those with one of these names in theirs or all."""
    set_up(WORKBOOK, TESTS)
    return run("planner.workbook.refresh", *names)


COMMANDS = {
    "open": open_workbook,
    "plan": print_plan,
    "sheet": make_sheet,
    "pattern": make_pattern,
    "handout": make_handout,
    "test": run_tests,
    "refresh": refresh,
}


def main(arguments: list[str]) -> int:
    """Do what the command line says; returns the exit code."""
    command, *more = arguments or ["open"]
    if command in ("-h", "--help", "help"):
        print(__doc__)
        return 0
    if command.startswith("-"):
        command, more = "open", arguments
    if command not in COMMANDS:
        print(__doc__)
        say(f'"{command}" is none of these.')
        return 2
    try:
        return COMMANDS[command](*more)
    except KeyboardInterrupt:
        say("stopped. Run it once more, and it goes on where it was.")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
