"""Transactions: all files of a change or none, whatever cuts it off, refuses it, or lies there."""

import errno
import json
import os
import shutil
import subprocess

import pytest

from planner import PlanError, Yarn, open_project
from planner.folder import locked_folder, see, write_together
from planner.folder.changes import change_piece
from tests.helpers.faults import (
    DONE,
    KILLED,
    Trial,
    at_step,
    copied,
    killed_at,
    no_writing_in,
    state_of,
    stepping,
    steps_of,
)
from tests.helpers.folders import contents, kept, leftovers, write
from tests.helpers.writers import SCRIPTS, all_at_once, base_piece

forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return base_piece(tmp_path_factory.mktemp("base") / "piece")


def put(folder, **files):
    """Write files of a folder together, named without what stands behind the point."""
    with locked_folder(folder):
        write_together(folder, {f"{name}.csv": text.encode() for name, text in files.items()})


# Cut off at any step


@forks
def test_killed_at_every_third_step(base):
    """A change of all six files and the history: the old piece or the new one, and acknowledged
    is kept."""
    figures = Trial(base, SCRIPTS["every file at once"], "every file at once").killed(every=3)
    assert figures.wrong == []
    assert min(figures.old, figures.new) >= 10


@forks
def test_killed_while_it_is_finished(base, tmp_path):
    """What one left half in place another finishes, and if that is killed, a third."""
    first = copied(base, tmp_path / "piece")
    seen, change = see(first), all_at_once()
    number = 0
    # The first step after which the change is made.
    while "manifest.json" not in os.listdir(_pending(first)):
        first = copied(base, tmp_path / "piece")
        seen = see(first)
        number += 1
        ended = killed_at(
            number, lambda seen=seen: change_piece(seen, change, check=lambda _: None)
        )
        assert ended == KILLED
    half = shutil.copytree(first, tmp_path / "half")
    see(first)
    after = state_of(first)
    assert after != state_of(base)
    for step in range(0, 60, 4):
        folder = copied(half, tmp_path / "piece")
        ended = killed_at(step, lambda folder=folder: see(folder))
        see(folder)
        assert state_of(folder) == after
        assert leftovers(folder) == []
    assert ended == DONE


def _pending(folder):
    pending = folder / ".pending"
    pending.mkdir(exist_ok=True)
    return pending


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO, errno.EACCES])
def test_a_disk_that_fails_at_any_step(base, error, monkeypatch):
    """It is said in words, the old piece or the new one is there, and later all goes on."""
    monkeypatch.setattr("planner.folder.transaction.WAITS_S", ())
    trial = Trial(base, SCRIPTS["every file at once"], "every file at once")
    for once in (True, False):
        figures = trial.failing(error, once=once, every=11)
        assert figures.wrong == []
        assert min(figures.old, figures.new) >= 2


def test_a_full_disk_is_said_and_later_all_goes_on(tmp_path):
    """A disk of 64 kB in memory."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    try:
        subprocess.run(mount, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no disk can be mounted here")
    try:
        folder = disk / "piece"
        folder.mkdir()
        piece = open_project(write(folder))
        with pytest.raises(OSError, match="No space"):
            (disk / "other").write_bytes(bytes(100_000))
        before = state_of(folder)
        with pytest.raises(PlanError, match="the disk is full"):
            kept(piece, yarns={"A": Yarn("A", "x" * 5000)})
        assert state_of(folder) == before
        assert open_project(folder) == piece
        (disk / "other").unlink()
        kept(piece, units="in")
        assert open_project(folder).units == "in"
    finally:
        subprocess.run(["umount", str(disk)], check=True)


READ_ONLY = {errno.EROFS: "read-only", errno.EACCES: "you may not write", errno.EPERM: "may not"}


@pytest.mark.parametrize("error", READ_ONLY)
def test_a_folder_that_cannot_be_written_is_read(tmp_path, error):
    """Not even its lock can be taken. Tests may run as a user who may write anywhere, so that the
    system's refusal is made up."""
    folder = tmp_path / "piece"
    folder.mkdir()
    piece = open_project(write(folder))
    said = f"Could not write piece: .*{READ_ONLY[error]}.*Nothing is"
    with no_writing_in(folder, error):
        assert open_project(folder) == piece
        with pytest.raises(PlanError, match=said):
            kept(piece, units="in")
    assert kept(piece, units="in").units == "in"


# What is written to


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    """Of a chart that lies elsewhere the file itself is written, in a folder of its own."""
    folder, elsewhere = tmp_path / "piece", tmp_path / "elsewhere"
    folder.mkdir()
    elsewhere.mkdir()
    piece = open_project(write(folder))
    (folder / "yarns.csv").rename(elsewhere / "wool.csv")
    (folder / "yarns.csv").symlink_to(elsewhere / "wool.csv")
    changed = kept(piece, yarns={}, name="Shawl")
    assert (folder / "yarns.csv").is_symlink()
    assert (elsewhere / "wool.csv").read_text().count("\n") == 1
    assert open_project(folder) == changed
    assert leftovers(tmp_path) == []


def test_a_link_to_nothing_becomes_a_file_there(tmp_path):
    (tmp_path / "measurements.csv").symlink_to(tmp_path / "log.csv")
    put(tmp_path, measurements="number\n")
    assert (tmp_path / "log.csv").read_text() == "number\n"


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps no such modes")
@pytest.mark.parametrize("mode", [0o600, 0o664, 0o444])
def test_a_files_mode_stays(tmp_path, mode):
    piece = open_project(write(tmp_path))
    (tmp_path / "piece.toml").chmod(mode)
    kept(piece, units="in")
    assert (tmp_path / "piece.toml").stat().st_mode & 0o777 == mode


def test_a_folder_where_a_file_belongs_refuses_the_whole_change(tmp_path):
    piece = open_project(write(tmp_path))
    (tmp_path / "choices.csv").mkdir()
    with pytest.raises(PlanError, match=r"Could not write choices\.csv: it is a folder"):
        put(tmp_path, yarns="letter\n", choices="about\n")
    (tmp_path / "choices.csv").rmdir()
    assert open_project(tmp_path) == piece


# What lies there already


@pytest.mark.parametrize(
    "manifest",
    [
        b"",
        b"{",
        b"42",
        b'[["chart.csv"]]',
        b"\xff",
        json.dumps(["chart.csv", "../outside.csv"]).encode(),
        json.dumps(["/etc/outside.csv"]).encode(),
        json.dumps(["history/../../outside.csv"]).encode(),
        json.dumps(["chart.csv\0"]).encode(),
    ],
)
def test_a_strangers_manifest_changes_nothing(tmp_path, manifest):
    """Whatever it says, the piece opens as it is, nothing outside is touched, and what it came
    with is kept out of the way."""
    folder = tmp_path / "piece"
    folder.mkdir()
    piece = open_project(write(folder))
    (tmp_path / "outside.csv").write_text("mine\n")
    pending = _pending(folder)
    (pending / "manifest.json").write_bytes(manifest)
    (pending / ".chart.csv.part").write_text("B,B,B\n")
    (pending / "..-outside.csv.part").write_text("theirs\n")
    assert open_project(folder) == piece
    assert (tmp_path / "outside.csv").read_text() == "mine\n"
    assert not pending.exists()
    assert contents(folder)["history/unfinished-1/manifest.json"] == manifest
    assert kept(piece, units="in").units == "in"


def test_a_link_in_the_place_of_what_is_unfinished_is_not_followed(tmp_path):
    """Else all files of the folder that it names would be thrown away."""
    folder, home = tmp_path / "piece", tmp_path / "home"
    folder.mkdir()
    home.mkdir()
    (home / "letter.txt").write_text("dear")
    write(folder)
    (folder / ".pending").symlink_to(home)
    assert kept(open_project(folder), units="in").units == "in"
    assert (home / "letter.txt").read_text() == "dear"


@pytest.mark.parametrize("make", ["file", "folder in it", "empty"])
def test_what_is_no_change_is_thrown_away(tmp_path, make):
    piece = open_project(write(tmp_path))
    pending = tmp_path / ".pending"
    if make == "file":
        pending.write_text("x")
    else:
        pending.mkdir()
    if make == "folder in it":
        (pending / "deeper").mkdir()
        (pending / "deeper" / "x.part").write_text("x")
    assert open_project(tmp_path) == piece
    assert not pending.exists()


# The helper itself


def test_the_steps_of_a_change_are_seen(tmp_path):
    """Every opening for writing, half of every write, and each call that changes the disk."""
    path = tmp_path / "x"

    def change():
        with open(path, "x") as file:
            file.write("abcd")
        os.unlink(path)

    assert steps_of(change) == 4  # opened, half written, before and after it is deleted
    with pytest.raises(ZeroDivisionError), stepping(at_step(1, lambda: 1 // 0)):
        change()
    assert path.read_text() == "ab"
