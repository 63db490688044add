"""Changes of a folder: what could not be read again is never written; new pieces."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from planner import Chart, PlanError, open_project
from planner.folder import keep, start_piece, with_entry, with_measurement
from planner.piece import LEFT, OwnChoice, Yarn
from tests.helpers.folders import contents, leftovers, write
from tests.helpers.writers import measured

LONG = "x" * 200_000


def logged(**values):
    def change(held):
        log = with_measurement(held.measurements, lambda number: measured(number, **values))
        return replace(held, measurements=log)

    return change


def noted(row=1, **values):
    def change(held):
        log = with_entry(held, LEFT, row, strand="A1", length_cm=5.0, **values)
        return replace(held, progress=log)

    return change


def asked(**changes):
    return lambda held: replace(held, **changes)


UNREADABLE = {
    "a long note of a measurement": logged(note=LONG),
    "a long note of a row": noted(note=LONG),
    "a row beyond all rows": noted(row=10**12),
    "a long name": asked(name="x" * 2000),
    "a yarn with a long name": asked(yarns={"A": Yarn("A", LONG)}),
    "a yarn with a sign that ends texts": asked(yarns={"A": Yarn("A", "a\0b")}),
    "a yarn without a letter": asked(yarns={"": Yarn("")}),
    "a choice beyond all rows": asked(
        choices=(OwnChoice("supply", "A", 10**12, 1, "whole", "bobbin"),)
    ),
    "half a sign in the name": asked(name="\ud800"),
    "half a sign in a note": logged(note="\ud800"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_could_not_be_read_again_is_not_written(tmp_path, name):
    """One line of it would keep the whole piece from being opened."""
    piece = open_project(write(tmp_path))
    before = contents(tmp_path)
    with pytest.raises(PlanError, match=r"could not be read again|no file takes"):
        keep(piece, UNREADABLE[name])
    assert contents(tmp_path) == before
    assert open_project(tmp_path) == piece


# New pieces

CHART = Chart.from_rows(["AB"])


@pytest.mark.parametrize(
    ("name", "folder"),
    [
        ("Hill scarf, N° 2", "hill-scarf-n-2"),
        ("con", "piece-con"),
        ("LPT1", "piece-lpt1"),
        ("com¹", "piece-com¹"),
        ("con cord", "con-cord"),
        ("../../etc", "etc"),
        ("x" * 300, "x" * 60),
        ("毛糸" * 100, "毛糸" * 30),
        ("a:b\\c/d", "a-b-c-d"),
        ("-", None),
        ("…", None),
    ],
)
def test_a_folder_has_a_name_that_any_system_takes(tmp_path, name, folder):
    if folder is None:
        with pytest.raises(PlanError, match="no name yet"):
            start_piece(tmp_path, name, CHART, {})
    else:
        made = start_piece(tmp_path, name, CHART, {"A": Yarn("A", "Rust")})
        assert made == tmp_path / folder
        assert len(made.name.encode()) <= 240
        assert open_project(made).name == name.strip()
    assert leftovers(tmp_path) == []


def test_a_half_made_piece_is_made_again_and_a_whole_one_is_not(tmp_path):
    (tmp_path / "hill").mkdir()
    (tmp_path / "hill" / ".pending").mkdir()
    start_piece(tmp_path, "Hill", CHART, {})
    before = contents(tmp_path)
    with pytest.raises(PlanError, match="There is a piece hill already"):
        start_piece(tmp_path, "hill", CHART, {"A": Yarn("A")})
    assert contents(tmp_path) == before


def test_of_two_that_make_one_piece_one_is_told(tmp_path):
    def make(letter):
        try:
            return start_piece(tmp_path, "Hill", Chart.from_rows([letter]), {})
        except PlanError as error:
            return str(error)

    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(make, "ABCD"))
    assert [str(each)[:16] for each in made].count("There is a piece") == 3
    first = next(i for i, each in enumerate(made) if not isinstance(each, str))
    assert open_project(tmp_path / "hill").chart.letters == ("ABCD"[first],)


def test_a_file_in_the_place_of_the_folder_is_said(tmp_path):
    (tmp_path / "hill").write_text("x")
    with pytest.raises(PlanError, match="Could not write hill"):
        start_piece(tmp_path, "Hill", CHART, {})


def test_a_new_piece_that_could_not_be_opened_is_not_made(tmp_path):
    with pytest.raises(PlanError, match="could not be read again"):
        start_piece(tmp_path, "x" * 2000, CHART, {})
    assert start_piece(tmp_path, "x" * 900, CHART, {}).is_dir()
