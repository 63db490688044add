"""Set-up on a bare Python: cut off anywhere it goes on; pins hold; what pip says, in words."""

import os
import re
import shutil
import subprocess
import sys
import time
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.specifiers import SpecifierSet

from planner import __main__ as set_up
from tests.conftest import ROOT
from tests.helpers.set_up import finished, killed_when, small_project, works

PROMISED = ("3.11.0", "3.11.2", "3.12.0", "3.13.0", "3.14.0")  # 3.11.2 is Debian 12's
PINS = dict(line.split("==") for line in (ROOT / ".ci/constraints.txt").read_text().split())


# Cut off


@pytest.mark.skipif(os.name == "nt", reason="kills a group of processes, as POSIX has them")
def test_cut_off_anywhere_it_goes_on(tmp_path):
    """While the environment is made, while it gets pip, and while a package is installed."""
    root = small_project(tmp_path)
    packages = "lib/python*/site-packages"
    assert killed_when(root, "pyvenv.cfg")
    assert killed_when(root, f"{packages}/pip/_vendor")
    assert killed_when(root, f"{packages}/yarnball/part_1*.py")
    assert not works(root)
    finished(root)
    assert works(root)
    assert finished(root) == ""  # there is nothing left to do

    # Pip alone is lost: it comes back, and what is installed stays.
    for folder in (root / ".venv").glob(f"{packages}/pip*"):
        shutil.rmtree(folder)
    assert not works(root)
    assert "making" not in finished(root)
    assert works(root)
    assert finished(root) == ""


def package_of(folder: Path) -> Path:
    """A package as pip leaves it: its files, and the list of them with their sizes."""
    info = folder / "wool-1.0.dist-info"
    info.mkdir()
    (folder / "wool.py").write_text("# wool\n")
    (info / "RECORD").write_text("wool.py,sha256=x,7\nwool-1.0.dist-info/RECORD,,\n")
    return info


def test_a_whole_package_is_left_alone(tmp_path):
    assert set_up.is_whole(package_of(tmp_path))


@pytest.mark.parametrize("what", ["cut short", "lost", "no list", "list cut short"])
def test_a_package_that_is_not_whole(tmp_path, what):
    info = package_of(tmp_path)
    if what == "cut short":
        (tmp_path / "wool.py").write_text("# w")
    elif what == "lost":
        (tmp_path / "wool.py").unlink()
    elif what == "no list":
        (info / "RECORD").unlink()
    else:
        (info / "RECORD").write_text("wool.py,sha2")
    assert not set_up.is_whole(info)


def test_only_what_is_not_whole_is_installed_anew(tmp_path, monkeypatch):
    marks = {path: tmp_path / path.name for path in set_up.INSTALLED}
    monkeypatch.setattr(set_up, "INSTALLED", marks)
    for mark in marks.values():
        mark.touch()
    packages = tmp_path / "site-packages"
    packages.mkdir()
    whole = package_of(packages)
    half, aside = packages / "silk-2.0.dist-info", packages / "~ilk"
    half.mkdir()
    aside.mkdir()
    set_up.forget_what_is_half_installed(packages)
    assert whole.exists()
    assert [path for path in (half, aside, *marks.values()) if path.exists()] == []


def test_the_packages_of_this_environment_are_whole():
    """As pip left them: no other rule of its lists was overlooked."""
    packages = {Path(str(distribution(name).locate_file(""))) for name in ("pytest", "numpy")}
    infos = [info for folder in packages for info in folder.glob("*.dist-info")]
    assert len(infos) > 50
    assert [info.name for info in infos if not set_up.is_whole(info)] == []


def test_two_that_set_up_at_once_do_not_stumble_over_each_other(tmp_path, monkeypatch):
    """The first that is done takes the mark away while the other one is still at work."""
    root = tmp_path / "python3.11" / "site-packages"
    monkeypatch.setattr(set_up, "INSTALLED", {set_up.WORKBOOK: tmp_path / "done"})
    monkeypatch.setattr(set_up, "INSTALLING", tmp_path / "installing")

    def installed_by_another(command):
        (tmp_path / "installing").unlink()
        return 0, []

    monkeypatch.setattr(set_up, "follow", installed_by_another)
    set_up.install(set_up.WORKBOOK, root)
    assert (tmp_path / "done").exists()


WAITS = """
import os, sys, time
open(sys.argv[1], "w").write(str(os.getpid()))
time.sleep(60)
"""


@pytest.mark.skipif(os.name == "nt", reason="signals as POSIX has them")
def test_told_to_end_it_ends_what_it_runs(tmp_path):
    """As JupyterLab is run; a process that is gone cannot be asked for by its number."""
    (tmp_path / "waits.py").write_text(WAITS)
    pid = tmp_path / "pid"
    runs = (
        "import sys; from planner import __main__ as it; it.PYTHON = sys.executable; "
        f"sys.exit(it.run('waits', {str(pid)!r}, PYTHONPATH={str(tmp_path)!r}))"
    )
    with subprocess.Popen([sys.executable, "-c", runs], cwd=ROOT) as process:
        while not (pid.exists() and pid.read_text()):
            time.sleep(0.02)
        process.terminate()
        assert process.wait(20) == 143
    with pytest.raises(ProcessLookupError):
        os.kill(int(pid.read_text()), 0)


# The pins


@pytest.mark.parametrize("name", PINS)
def test_a_pin_holds_on_every_python_promised(name):
    """By the package's own metadata, as it is installed."""
    try:
        package = distribution(name)
    except PackageNotFoundError:
        pytest.skip("not needed on this kind of computer")
    assert package.version == PINS[name], "not what is pinned: run python3 -m planner test"
    allowed = SpecifierSet(package.metadata.get("Requires-Python") or "")
    assert [version for version in PROMISED if version not in allowed] == []


def test_the_promise_is_what_the_readme_says():
    assert "You need Python 3.11 or newer" in (ROOT / "README.md").read_text("utf-8")


# What pip says, in words: each is what pip 23 to 25 printed, shortened

BROKEN = (
    "WARNING: Retrying (Retry(total=0, connect=None, read=None, redirect=None, status=None)) after "
    "connection broken by 'NewConnectionError('<HTTPSConnection object at 0x7ff6>: Failed to "
    "establish a new connection: [Errno -3] Temporary failure in name resolution')': /simple/a/"
)
NO_VERSION = (
    "ERROR: Could not find a version that satisfies the requirement soupsieve==4.1.3 (from "
    "versions: {})"
)
NO_MATCH = "ERROR: No matching distribution found for soupsieve==4.1.3"
NOT_CONNECTED, NOT_FOR_PYTHON = "no connection to the internet", "there is no soupsieve==4.1.3 for"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ([BROKEN, NO_VERSION.format("none"), NO_MATCH], NOT_CONNECTED),
        (
            [
                "ERROR: Ignored the following versions that require a different python version: "
                "4.1.3 Requires-Python >=3.11.5",
                NO_VERSION.format("2.8, 2.9"),
                NO_MATCH,
            ],
            NOT_FOR_PYTHON,
        ),
        # It was lost for a moment only.
        ([BROKEN, NO_VERSION.format("2.8, 2.9"), NO_MATCH], NOT_FOR_PYTHON),
        # Told to try once only, it says no more.
        ([NO_VERSION.format("none"), NO_MATCH], NOT_CONNECTED),
        (
            ["ERROR: Package 'soupsieve' requires a different Python: 3.11.2 not in '>=3.11.5'"],
            "there is no soupsieve for",
        ),
        (
            [
                "ERROR: Could not install packages due to an OSError: HTTPSConnectionPool(host='h',"
                " port=443): Max retries exceeded with url: /a.whl (Caused by ReadTimeoutError())"
            ],
            NOT_CONNECTED,
        ),
        (
            ["pip._vendor.urllib3.exceptions.ReadTimeoutError: HTTPSConnectionPool: timed out."],
            NOT_CONNECTED,
        ),
        (
            ["ERROR: ResolutionImpossible: for help visit https://pip.pypa.io/"],
            "there is no one of the packages for",
        ),
        (
            [
                "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE. If you "
                "have updated the package versions, please update the hashes."
            ],
            "arrived damaged",
        ),
        (
            [
                "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on "
                "device"
            ],
            "the disk is full",
        ),
        (["ERROR: something else"], "the reason is above"),
    ],
)
def test_why_it_was_not_installed(said, expected):
    words = set_up.why_not_installed(said)
    assert expected in words
    assert "run it once more" in words.lower()


def test_a_missing_connection_is_told_by_a_real_pip(tmp_path, monkeypatch, capsys):
    """Nobody answers at port 9 of this computer."""
    wanted = tmp_path / "list.txt"
    wanted.write_text("--index-url http://127.0.0.1:9/simple\nwool-of-no-sheep\n")
    monkeypatch.setattr(set_up, "PYTHON", Path(sys.executable))
    monkeypatch.setattr(set_up, "INSTALLED", {wanted: tmp_path / "mark"})
    monkeypatch.setattr(set_up, "INSTALLING", tmp_path / "installing")
    for name in [name for name in os.environ if name.startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_RETRIES", "1")
    with pytest.raises(SystemExit) as stopped:
        set_up.install(wanted, tmp_path)
    assert NOT_CONNECTED in str(stopped.value)
    assert "No matching distribution" in capsys.readouterr().out
    assert not (tmp_path / "mark").exists()


# The command line


def test_help_lists_every_command(capsys):
    assert set_up.main(["--help"]) == 0
    words = capsys.readouterr().out
    named = set(re.findall(r"python3 -m planner (\w+)", words))
    assert named == set(set_up.COMMANDS)
    assert "options of\n" in words
    assert "JupyterLab may follow" in words
    assert set_up.main(["purl"]) == 2
    assert set_up.main(["purl", "--no-browser"]) == 2


@pytest.mark.parametrize("before", [[], ["open"]])
@pytest.mark.parametrize("options", [[], ["--no-browser"], ["--no-browser", "--port=8899"]])
def test_options_of_jupyterlab_are_passed_on(monkeypatch, before, options):
    calls = []
    monkeypatch.setattr(set_up, "set_up", lambda *lists: None)
    monkeypatch.setattr(set_up, "run", lambda *words, **_: calls.append(words) or 0)
    assert set_up.main([*before, *options]) == 0
    ((module, *words),) = calls
    assert module == "jupyterlab"
    # Last, so that they hold against the workbook's own.
    own = [*set_up.lab_options(set_up.ROOT), words[-1 - len(options)]]
    assert words == [*own, *options]
    assert own[-1].startswith("--LabApp.default_url=")


def test_tests_and_notebooks_show_the_demo_itself(monkeypatch):
    """Not the copy of it that the knitter has changed."""
    calls = []
    monkeypatch.setattr(set_up, "set_up", lambda *lists: None)

    def begun(command, cwd, env):
        calls.append((command, env))
        return popen([sys.executable, "-c", ""], cwd=cwd, env=env)

    popen = subprocess.Popen
    monkeypatch.setattr(set_up.subprocess, "Popen", begun)
    monkeypatch.delenv("PLANNER_DEMO")
    assert set_up.main(["test"]) == 0
    assert set_up.main(["test", "tests/piece"]) == 0
    assert len(calls) == 3
    assert all(env["PLANNER_DEMO"] == "1" for _, env in calls)
    assert os.environ.get("PLANNER_DEMO") is None


def test_stopped_by_hand(monkeypatch, capsys):
    def stopped(*lists):
        raise KeyboardInterrupt

    monkeypatch.setattr(set_up, "set_up", stopped)
    assert set_up.main(["open"]) == 130
    assert "goes on where it was" in capsys.readouterr().out
