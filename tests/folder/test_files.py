"""Files in the hands of several at once, and of one that is killed while it writes."""

import os
import random
import signal
import subprocess
import sys
import textwrap
import time

import pytest

from planner.folder import append_row, locked, read_measurements, read_table
from tests.helpers.folders import ENVIRONMENT, leftovers

# Several at once, real processes

MANY = """
    import sys, time
    from planner.folder import log_measurement
    from planner.piece import MARKED, Measurement
    folder, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    for i in range(count):
        values = {"stitches": 54, "length_cm": 100 + i, "note": name}
        log_measurement(
            folder, lambda number: Measurement(number, "2026-03-02", MARKED, "A", 20, **values)
        )
        time.sleep(0.01)  # let the others in
"""


def python(script, *arguments, **kwargs):
    command = [sys.executable, "-c", textwrap.dedent(script), *map(str, arguments)]
    return subprocess.Popen(command, env=ENVIRONMENT, text=True, **kwargs)


def test_four_processes_at_once(tmp_path):
    """Four kernels log 50 measurements each: all 200 are there, each with a number of its own, in
    each one's order."""
    writers = [python(MANY, tmp_path, name, 50) for name in "abcd"]
    assert [writer.wait(120) for writer in writers] == [0] * 4
    log = read_measurements(tmp_path)
    assert [m.number for m in log] == list(range(1, 201))
    for name in "abcd":
        assert [m.length_cm for m in log if m.note == name] == [100 + i for i in range(50)]
    assert leftovers(tmp_path) == []


# Killed while writing, real processes

ONE = """
    import sys, time
    from pathlib import Path
    from planner.folder.files import append_row, locked
    path, name = Path(sys.argv[1]), sys.argv[2]
    i = 0
    while True:
        i += 1
        with locked(path):
            row = {"writer": name, "line": i, "text": name * 80, "end": "end"}
            append_row(path, tuple(row), row)
        sys.stdout.write(f"{name} {i}\\n")
        sys.stdout.flush()
        time.sleep(0.002)  # let the others in
"""
SHORT = ("writer", "line", "text", "end")
not_on_windows = pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not known to Windows")


def check_whole(path, acknowledged):
    """Every line is whole and there once, and every acknowledged one is there."""
    rows = list(read_table(path, SHORT, needed=SHORT).values())
    assert [row for row in rows if row["text"] != row["writer"] * 80 or row["end"] != "end"] == []
    there = [(row["writer"], int(row["line"])) for row in rows]
    assert len(set(there)) == len(there)
    assert acknowledged <= set(there)
    assert path.read_bytes().endswith(b",end\n")
    return there


@not_on_windows
@pytest.mark.parametrize("seed", range(5))
def test_killed_at_any_moment(tmp_path, seed):
    """5 × 40 processes, two at a time in one file, are killed with SIGKILL at a random moment:
    no acknowledged line is lost, no half line is left, and the others go on writing."""
    rng, path, acknowledged = random.Random(seed), tmp_path / "log.csv", set()
    killed = written = 0
    running = []

    def start():
        name = f"w{seed}n{killed + len(running)}."
        running.append((name, python(ONE, path, name, stdout=subprocess.PIPE)))

    try:
        while killed < 40:
            while len(running) < 2:
                start()
            name, writer = running.pop(0)
            heard = writer.stdout.readline()  # it writes by now
            time.sleep(rng.uniform(0, 0.03))
            writer.send_signal(signal.SIGKILL)
            rest, _ = writer.communicate(timeout=60)
            assert writer.returncode == -signal.SIGKILL
            killed += 1
            whole = [
                line for line in (heard + rest).splitlines(keepends=True) if line.endswith("\n")
            ]
            acknowledged |= {(name, int(line.split()[1])) for line in whole}
            assert acknowledged
            written = len(check_whole(path, acknowledged))
    finally:
        for _, writer in running:
            writer.kill()
            writer.communicate()
    assert written >= len(acknowledged) >= 40
    # The next to write finds the lock free and clears away what was left half written.
    with locked(path):
        append_row(path, SHORT, {"writer": "last", "line": 1, "text": "last" * 80, "end": "end"})
    assert check_whole(path, acknowledged)[-1] == ("last", 1)
    assert leftovers(tmp_path) == []


# Where in the writing the process ends: the call before or after which it kills itself.
MOMENTS = {
    "before the sibling file is written": ("builtins.open", "before", "xb"),
    "when it is open and empty": ("builtins.open", "after", "xb"),
    "when its words are not yet on the disk": ("os.fsync", "before", None),
    "when it is on the disk": ("os.fsync", "after", None),
    "before it is put in place": ("os.replace", "before", None),
    "after it is put in place": ("os.replace", "after", None),
}
AT = """
    import builtins, os, signal, sys
    from pathlib import Path
    from planner.folder.files import append_row, locked
    path, call, when, mode = Path(sys.argv[1]), *sys.argv[2:5]
    module = sys.modules[call.split(".")[0]]
    name = call.split(".")[1]
    real = getattr(module, name)

    def deadly(*arguments, **kwargs):
        mine = mode == "None" or mode in arguments
        if mine and when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        result = real(*arguments, **kwargs)
        if mine:
            os.kill(os.getpid(), signal.SIGKILL)
        return result

    with locked(path):
        setattr(module, name, deadly)
        row = {"writer": "b", "line": 1, "text": "b" * 80, "end": "end"}
        append_row(path, tuple(row), row)
    print("acknowledged")
"""


@not_on_windows
@pytest.mark.parametrize("moment", MOMENTS)
def test_killed_at_each_step(tmp_path, moment):
    """The file is the old one or the new one, whole; the next writer goes on."""
    path = tmp_path / "log.csv"
    with locked(path):
        append_row(path, SHORT, {"writer": "a", "line": 1, "text": "a" * 80, "end": "end"})
    writer = python(AT, path, *MOMENTS[moment], stdout=subprocess.PIPE)
    assert writer.communicate(timeout=60)[0] == ""
    assert writer.returncode == -signal.SIGKILL
    there = check_whole(path, {("a", 1)})
    assert there == [("a", 1)] + [("b", 1)] * (moment == "after it is put in place")
    with locked(path):
        append_row(path, SHORT, {"writer": "c", "line": 1, "text": "c" * 80, "end": "end"})
    assert check_whole(path, {("a", 1), ("c", 1)}) == [*there, ("c", 1)]
    assert leftovers(tmp_path) == []
