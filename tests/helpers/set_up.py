"""A project in small that sets itself up without the internet, and a hand that cuts it off."""

import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

from tests.conftest import ROOT

FILES = 300  # of the only package
SETS_UP = "from planner import __main__ as it; it.set_up(it.WORKBOOK)"
CHECKS = f"import pip, yarnball; yarnball.count() == {FILES} or exit(1)"


def small_project(folder: Path) -> Path:
    """A project that needs one package, which lies beside it."""
    root = folder / "project"
    (root / "planner").mkdir(parents=True)
    (root / ".ci").mkdir()
    (root / "planner" / "__init__.py").touch()
    shutil.copy(ROOT / "planner" / "__main__.py", root / "planner")
    wheels = make_wheel(folder / "wheels").parent
    lines = ["--no-index", f"--find-links {wheels.as_uri()}", "yarnball", "-c .ci/constraints.txt"]
    (root / "requirements.txt").write_text("\n".join(lines) + "\n")
    (root / ".ci" / "constraints.txt").write_text("yarnball==1.0\n")
    return root


def make_wheel(folder: Path) -> Path:
    """A package of many files, so that it can be met half installed."""
    folder.mkdir()
    count = "\n".join(f"from yarnball.part_{n} import *" for n in range(FILES))
    files = {"yarnball/__init__.py": f"def count():\n    return {FILES}\n\n\n{count}\n"}
    files |= {f"yarnball/part_{n}.py": f"length_{n} = {n}\n" for n in range(FILES)}
    info = "yarnball-1.0.dist-info"
    files[f"{info}/METADATA"] = "Metadata-Version: 2.1\nName: yarnball\nVersion: 1.0\n"
    files[f"{info}/WHEEL"] = "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
    files[f"{info}/RECORD"] = "".join(f"{name},,\n" for name in (*files, f"{info}/RECORD"))
    wheel = folder / "yarnball-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return wheel


def begin(root: Path) -> subprocess.Popen:
    """A set-up at work, in a group of its own, so that its pip can be killed with it."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PIP_")}
    return subprocess.Popen(
        [sys.executable, "-c", SETS_UP],
        cwd=root,
        env=clean | {"PYTHONPATH": str(root), "PIP_CONFIG_FILE": os.devnull},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )


def finished(root: Path) -> str:
    """What a set-up says that is left to come to its end."""
    with begin(root) as process:
        words = process.communicate(timeout=120)[0]
    assert process.returncode == 0, words
    return words


def killed_when(root: Path, there: str) -> bool:
    """Kill a set-up as soon as a file like this is there in the environment; whether it was."""
    with begin(root) as process:
        while process.poll() is None:
            if any((root / ".venv").glob(there)):
                return kill(process)
            time.sleep(0.002)
    return False


def killed_after(root: Path, seconds: float) -> bool:
    """Kill a set-up after so long; whether it was still at work."""
    with begin(root) as process:
        try:
            process.wait(seconds)
        except subprocess.TimeoutExpired:
            return kill(process)
    return False


def kill(process: subprocess.Popen) -> bool:
    os.killpg(process.pid, signal.SIGKILL)
    process.communicate()
    return True


def works(root: Path) -> bool:
    """Whether the environment has pip and the whole package, and finds the project."""
    python = root / ".venv" / "bin" / "python"
    command = [python, "-c", f"{CHECKS}; import planner; print(planner.__file__)"]
    alone = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    answer = subprocess.run(
        command, cwd=root.parent, env=alone, capture_output=True, text=True, check=False
    )
    return answer.returncode == 0 and str(root) in answer.stdout
