"""set.toml: read, refused in words, changed with its comments, and never made by reading."""

import errno
import os
import tomllib
import zipfile
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from planner import PlanError
from planner.folder import (
    APART,
    ONE_YARN,
    SET,
    Answer,
    PieceSet,
    SetPiece,
    change_set,
    dissolve_set,
    read_set,
    set_text,
    versions,
)
from tests.helpers.faults import Trial, no_writing_in
from tests.helpers.folders import comments, contents, leftovers
from tests.helpers.writers import SCRIPTS, base_piece

forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")
HARBOUR = PieceSet(
    "Harbour",
    (SetPiece("back"), SetPiece("sleeve", times=2, mirrored=1)),
    (Answer("name", "rust", ONE_YARN, "back"), Answer("letter", "R", APART)),
)
BY_HAND = """\
# What I knit this winter.
name = "Harbour"
# the big one first
[[piece]]
folder = "back"  # 72 stitches
[[piece]]
times = 2  # left and right
folder = "sleeve"
"""


@pytest.fixture
def data(tmp_path):
    """Three pieces beside each other."""
    for name in ("back", "front", "sleeve"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "chart.csv").write_text("A,B\n")
    return tmp_path


# ---- read


def test_reading_makes_nothing(data):
    before = sorted(path.name for path in data.rglob("*"))
    assert read_set(data) is None
    assert sorted(path.name for path in data.rglob("*")) == before


def test_a_set_written_by_hand(data):
    (data / SET).write_text(BY_HAND)
    expected = PieceSet("Harbour", (SetPiece("back"), SetPiece("sleeve", 2)))
    assert read_set(data) == expected


def test_a_set_comes_back_and_says_what_it_is(data):
    assert change_set(data, lambda held: HARBOUR) == HARBOUR
    assert read_set(data) == HARBOUR
    text = (data / SET).read_text()
    assert text.startswith("# A set: pieces that are knitted from one purse of yarn")
    # Another reader of TOML finds the same.
    read = tomllib.loads(text)
    assert [piece["folder"] for piece in read["piece"]] == ["back", "sleeve"]
    assert read["piece"][1]["times"] == 2
    assert leftovers(data) == []


HOSTILE = {
    "no pieces": ('name = "x"\n', "names no piece"),
    "an empty file": ("", "names no piece"),
    "an unknown piece": ('[[piece]]\nfolder = "cowl"\n', "names the piece cowl, but there is none"),
    "a piece twice": ('[[piece]]\nfolder = "back"\n' * 2, "names the piece back twice"),
    "a count that is not whole": ('[[piece]]\nfolder = "back"\ntimes = 1.5\n', "whole number"),
    "a count that is true": ('[[piece]]\nfolder = "back"\ntimes = true\n', "times is True"),
    "a count in words": ('[[piece]]\nfolder = "back"\ntimes = "two"\n', "times is 'two'"),
    "none of a piece": ('[[piece]]\nfolder = "back"\ntimes = 0\n', "times is 0"),
    "a thousand of a piece": ('[[piece]]\nfolder = "back"\ntimes = 1000\n', "at most 60"),
    "an endless count": ('[[piece]]\nfolder = "back"\ntimes = inf\n', "times is inf"),
    "more mirrored than knitted": (
        '[[piece]]\nfolder = "back"\ntimes = 2\nmirrored = 3\n',
        "mirrored is 3; it must be 0 or more, and at most 2",
    ),
    "more finished than knitted": ('[[piece]]\nfolder = "back"\nfinished = 2\n', "finished is 2"),
    "a folder above": ('[[piece]]\nfolder = "../back"\n', "Write the name of a folder"),
    "a folder within": ('[[piece]]\nfolder = "back/history"\n', "Write the name of a folder"),
    "a folder by its whole path": ('[[piece]]\nfolder = "/etc"\n', "Write the name of a folder"),
    "a folder of another system": (
        "[[piece]]\nfolder = 'back\\\\..\\\\front'\n",
        "Write the name of a folder",
    ),
    "a hidden folder": ('[[piece]]\nfolder = ".git"\n', "Write the name of a folder"),
    "dots": ('[[piece]]\nfolder = ".."\n', "Write the name of a folder"),
    "no folder": ("[[piece]]\ntimes = 1\n", 'has no "folder"'),
    "a folder that is a number": ("[[piece]]\nfolder = 7\n", "quotation marks"),
    "a word nobody knows": ('[[piece]]\nfolder = "back"\ncolour = "red"\n', '"colour" means'),
    "a part nobody knows": ('yarn = 1\n[[piece]]\nfolder = "back"\n', '"yarn" means nothing'),
    "a piece that is no table": ("piece = 3\n", "piece is 3"),
    "pieces that are no tables": ("piece = [1, 2]\n", "write \\[\\[piece\\]\\]"),
    "a name that is a number": ('name = 3\n[[piece]]\nfolder = "back"\n', "name is 3"),
    "another format": ('format = 9\n[[piece]]\nfolder = "back"\n', "format"),
    "no TOML": ("[[piece\n", "cannot be read"),
    "an answer about nothing": (
        '[[piece]]\nfolder = "back"\n[[answer]]\nabout = "x"\nof = "R"\nsays = "apart"\n',
        "a name or a letter",
    ),
    "an answer nobody knows": (
        '[[piece]]\nfolder = "back"\n[[answer]]\nabout = "name"\nof = "R"\nsays = "maybe"\n',
        "write one of",
    ),
    "an answer twice": (
        '[[piece]]\nfolder = "back"\n'
        + '[[answer]]\nabout = "name"\nof = "R"\nsays = "apart"\n' * 2,
        "answers twice",
    ),
    "a name of a book's length": (
        f'name = "{"x" * 2000}"\n[[piece]]\nfolder = "back"\n',
        "2,000 letters",
    ),
    "a file of a book's length": (f"# {'x' * 60_000}\n", "bytes"),
    "tables within tables": (f"{'a.' * 60}b = 1\n", "points"),
    "a number of thousands of digits": (f"format = {'9' * 5000}\n", "cannot be read"),
    "many pieces": (
        "".join(f'[[piece]]\nfolder = "p{number}"\n' for number in range(101)),
        "101 pieces",
    ),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused_in_words(data, name):
    text, words = HOSTILE[name]
    (data / SET).write_text(text)
    with pytest.raises(PlanError, match=words):
        read_set(data)
    assert (data / SET).read_text() == text


def test_a_file_that_cannot_be_read_is_not_written_over(data):
    text, _ = HOSTILE["a piece twice"]
    (data / SET).write_text(text)
    with pytest.raises(PlanError, match="twice"):
        change_set(data, lambda held: HARBOUR)
    assert (data / SET).read_text() == text


@pytest.mark.parametrize("data_of_a_file", [b"\xff\xfe\x00\x01", b"\x80abc", b"name = '\x00'\n"])
def test_what_is_no_text_is_refused(data, data_of_a_file):
    (data / SET).write_bytes(data_of_a_file)
    with pytest.raises(PlanError):
        read_set(data)


# ---- changed


def test_comments_stay_when_a_count_changes_and_a_piece_comes(data):
    (data / SET).write_text(BY_HAND)
    after = (SetPiece("back"), SetPiece("sleeve", 3), SetPiece("front"))
    change_set(data, lambda held: replace(held, pieces=after))
    text = (data / SET).read_text()
    assert comments(text) == comments(BY_HAND)
    assert [piece.times for piece in read_set(data).pieces] == [1, 3, 1]


def test_another_order_and_a_piece_less(data):
    (data / SET).write_text(BY_HAND)
    turned = PieceSet("Harbour", (SetPiece("front"), SetPiece("sleeve", 2), SetPiece("back")))
    change_set(data, lambda held: turned)
    assert read_set(data) == turned
    assert "# 72 stitches" in (data / SET).read_text()
    change_set(data, lambda held: replace(held, pieces=turned.pieces[:1]))
    assert read_set(data).pieces == (SetPiece("front"),)


def test_a_set_written_in_one_line_is_written_out(data):
    (data / SET).write_text('piece = [{folder = "back"}, {folder = "front"}]\n')
    change_set(data, lambda held: replace(held, answers=HARBOUR.answers))
    assert read_set(data).answers == HARBOUR.answers
    assert [piece.folder for piece in read_set(data).pieces] == ["back", "front"]


def test_a_file_does_not_grow_by_being_changed(data):
    text = ""
    sizes = []
    for number in range(8):
        pieces = HARBOUR.pieces if number % 2 else HARBOUR.pieces[:1]
        text = set_text(text, replace(HARBOUR, pieces=pieces))
        sizes.append(len(text))
    assert sizes[-1] == sizes[-3] == sizes[-5]


def test_any_names_can_be_kept(data):
    for name in (
        'quoted "x"',
        "a = b # c",
        "[[piece]]",
        "Füße 🧶",
        "",
        "back\\slash",
        "two\nlines",
    ):
        change_set(data, lambda held, name=name: replace(HARBOUR, name=name))
        assert read_set(data).name == name


def test_what_no_file_takes_is_refused(data):
    with pytest.raises(PlanError, match="a sign in it that no file takes"):
        change_set(data, lambda held: replace(HARBOUR, name="\ud800"))
    assert not (data / SET).exists()


def test_a_piece_that_is_not_there_cannot_be_named(data):
    with pytest.raises(PlanError, match="names the piece cowl"):
        change_set(data, lambda held: replace(HARBOUR, pieces=(SetPiece("cowl"),)))
    assert not (data / SET).exists()


def test_a_piece_that_is_gone_does_not_hold_up_the_rest(data):
    change_set(data, lambda held: HARBOUR)
    (data / "sleeve" / "chart.csv").unlink()
    with pytest.raises(PlanError, match="sleeve"):
        read_set(data)
    assert read_set(data, all_there=False) == HARBOUR
    change_set(data, lambda held: replace(held, pieces=held.pieces[:1]))
    assert read_set(data).pieces == (SetPiece("back"),)


def test_a_dissolved_set_is_in_the_history(data):
    change_set(data, lambda held: HARBOUR)
    before = (data / SET).read_bytes()
    dissolve_set(data)
    assert read_set(data) is None
    (kept,) = versions(data)
    with zipfile.ZipFile(kept.path) as packed:
        assert packed.read(SET) == before
    # Where there is none, nothing is done.
    dissolve_set(data)
    assert len(versions(data)) == 1
    assert not leftovers(data)


def test_what_is_replaced_is_in_the_history(data):
    long_ago = datetime.now() - timedelta(hours=1)
    change_set(data, lambda held: HARBOUR, now=lambda: long_ago)
    before = (data / SET).read_bytes()
    # The first one replaces nothing.
    assert versions(data) == []
    change_set(data, lambda held: replace(held, name="Other"), doing="the name of the set")
    (kept,) = versions(data)
    assert kept.before == "the name of the set"
    with zipfile.ZipFile(kept.path) as packed:
        assert packed.read(SET) == before
    # In steady work not oftener than every ten minutes.
    change_set(data, lambda held: replace(held, name="Third"))
    assert len(versions(data)) == 1
    # The pieces' own folders are as they were.
    assert {name for name in contents(data) if name.startswith("back")} == {"back/chart.csv"}


def test_a_change_of_nothing_writes_nothing(data):
    (data / SET).write_text(BY_HAND)
    change_set(data, lambda held: held)
    assert (data / SET).read_text() == BY_HAND
    assert versions(data) == []


def test_a_folder_that_cannot_be_written(data):
    change_set(data, lambda held: HARBOUR)
    with no_writing_in(data, errno.EROFS):
        assert read_set(data) == HARBOUR
        with pytest.raises(PlanError, match="read-only"):
            change_set(data, lambda held: replace(held, name="Other"))
    assert read_set(data) == HARBOUR


@forks
def test_killed_at_any_step(tmp_path):
    base = base_piece(tmp_path / "base" / "piece")
    figures = Trial(base, SCRIPTS["a set"], "a set").killed(every=3)
    assert figures.wrong == []
    assert min(figures.old, figures.new) >= 3
