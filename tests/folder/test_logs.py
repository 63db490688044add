"""The logs: what is written stays, whatever a spreadsheet, another kernel or a sudden end does to
it, and what the knitter decided by hand."""

import csv
import io
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from datetime import datetime
from itertools import pairwise

import pytest
from filelock import FileLock

from planner import PlanError, make_plan, open_project
from planner.folder import locked_folder, read_choices, read_measurements, read_table, transaction
from planner.multiplier.calibration import Calibration
from planner.multiplier.evidence import calibration_of, evidence_in
from planner.piece.log import MARKED, SUPPLY, Measurement
from planner.piece.settings import OwnChoice
from tests.helpers.folders import chosen, contents, leftovers, logged, write

COLUMNS = tuple(field.name for field in fields(Measurement))


def measured(number, **other):
    """54 stitches from a metre, in yarn A."""
    basics = {
        "date": "2026-03-02",
        "way": MARKED,
        "yarn": "A",
        "gauge_stitches": 20,
        "stitches": 54,
        "length_cm": 100,
    }
    return Measurement(**{"number": number} | basics | other)


def add(folder, **other):
    return logged(folder, lambda number: measured(number, **other))


@pytest.fixture
def tmp_path(tmp_path):
    """Here it is the folder of a small piece."""
    return write(tmp_path)


# Adding


def test_the_first_line_makes_the_file(tmp_path):
    assert read_measurements(tmp_path) == ()
    first = add(tmp_path, note="a swatch")
    assert first.number == 1
    assert read_measurements(tmp_path) == (first,)
    lines = (tmp_path / "measurements.csv").read_bytes().decode().split("\n")
    assert lines[0] == ",".join(COLUMNS)
    how = "1,2026-03-02,marked length,A,20,10,stockinette,,as knitted,as knitted"
    assert lines[1] == f"{how},54,100,0.1,,1,,label,,,,,0,0,0,,,,yes,,a swatch"
    assert lines[2:] == [""]
    assert leftovers(tmp_path) == []


def test_a_line_is_added_below_and_the_others_keep_their_words(demo_copy):
    path = demo_copy / "measurements.csv"
    before, log = path.read_bytes(), read_measurements(demo_copy)
    new = logged(demo_copy, lambda number: measured(number, yarn="K"))
    after = path.read_bytes()
    assert after.startswith(before)
    assert after[len(before) :].count(b"\n") == 1
    assert new.number == len(log) + 1
    assert read_measurements(demo_copy) == (*log, new)
    assert open_project(demo_copy).measurements[-1] == new


def test_every_field_comes_back(tmp_path):
    full = {
        "needle_mm": 4.5,
        "fabric": "garter",
        "state": "blocked",
        "gauge_state": "blocked",
        "gauge_over_cm": 10.16,
        "way": SUPPLY,
        "strand": "K1",
        "wound_cm": 1260.0,
        "left_cm": 168.25,
        "length_step_cm": 0.5,
        "carried_cm": 7.0,
        "edges_cm": 1 / 3,
        "tails_cm": 30.0,
        "planned_cm": 1084.4,
        "planned_low_cm": 912.65,
        "planned_high_cm": 1256.37,
        "use": "no",
        "note": "knitted late",
    }
    first = add(tmp_path)
    new = logged(tmp_path, lambda number: measured(number, corrects=first.number, **full))
    assert read_measurements(tmp_path) == (first, new)


def test_a_correction_changes_no_older_line(tmp_path):
    add(tmp_path, note="typed late")
    before = (tmp_path / "measurements.csv").read_bytes()
    add(tmp_path, stitches=56, corrects=1)
    assert (tmp_path / "measurements.csv").read_bytes().startswith(before)


def test_a_correction_names_a_line_that_is_there(tmp_path):
    add(tmp_path)
    before = (tmp_path / "measurements.csv").read_bytes()
    with pytest.raises(PlanError, match=r"2.*not in the log"):
        logged(tmp_path, lambda number: measured(5, corrects=2))
    assert (tmp_path / "measurements.csv").read_bytes() == before


def test_a_folder_that_is_not_there_is_not_made(tmp_path):
    """A mistyped name must not become a new folder with a log of its own."""
    before = contents(tmp_path)
    with pytest.raises(PlanError, match=r"no folder.*harbor-cushion"):
        add(tmp_path / "harbor-cushion")
    assert contents(tmp_path) == before
    assert not (tmp_path / "harbor-cushion").exists()


# A log that was open in a spreadsheet


def lines_of(folder):
    add(folder, note="one")
    add(folder, note="two, with a comma", yarn="B")
    add(folder, note="three", stitches=60)
    return (folder / "measurements.csv").read_text(encoding="utf-8").splitlines(keepends=True)


def as_columns(lines, order):
    """The same table with its columns in another order."""
    table = list(csv.reader(lines))
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([[row[i] for i in order] for row in table])
    return out.getvalue()


EDITS = {
    "as it was": "".join,
    "rows reordered": lambda lines: "".join([lines[0], lines[3], lines[1], lines[2]]),
    "blank lines": lambda lines: (
        "\n" + "\n\n".join(lines) + "\n\n" + "," * (len(COLUMNS) - 1) + "\n"
    ),
    "byte-order mark": lambda lines: b"\xef\xbb\xbf" + "".join(lines).encode(),
    "carriage returns": lambda lines: "".join(lines).replace("\n", "\r\n"),
    "UTF-16": lambda lines: "".join(lines).encode("utf-16"),
    "UTF-16 and tabs": lambda lines: "\r\n".join(
        line.strip()
        .replace('"two, with a comma"', "two; with a comma")
        .replace(",", "\t")
        .replace(";", ",")
        for line in lines
    ).encode("utf-16"),
    "semicolons": lambda lines: "".join(
        line.replace(",", ";").replace('"two; with a comma"', "two, with a comma") for line in lines
    ),
    "no last newline": lambda lines: "".join(lines).rstrip("\n"),
    "columns reordered": lambda lines: as_columns(lines, list(reversed(range(len(COLUMNS))))),
    "columns named as a person would": lambda lines: "".join(
        [lines[0].replace("_", " ").title(), *lines[1:]]
    ),
    "all of it": lambda lines: (
        b"\xef\xbb\xbf"
        + "\r\n".join(
            [*(line.rstrip() for line in (lines[0], lines[2], lines[3])), "", lines[1]]
        ).encode()
    ),
}


@pytest.mark.parametrize("edit", EDITS)
def test_edited_in_a_spreadsheet(tmp_path, edit):
    """It reads the same, and another line can be added: all older ones are there in the same
    words and the same order."""
    text = EDITS[edit](lines_of(tmp_path))
    path = tmp_path / "measurements.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    log = read_measurements(tmp_path)
    assert [m.number for m in log] == [1, 2, 3]
    assert [m.note for m in log] == ["one", "two, with a comma", "three"]
    assert [(m.yarn, m.stitches, m.date) for m in log] == [
        (y, n, "2026-03-02") for y, n in (("A", 54), ("B", 54), ("A", 60))
    ]
    words = list(read_table(path, COLUMNS).values())
    new = add(tmp_path, note="four")
    assert new.number == 4
    assert read_measurements(tmp_path) == (*log, new)
    assert list(read_table(path, COLUMNS).values())[:3] == words


@pytest.mark.parametrize(
    "note",
    [
        "007",
        "NA",
        "1E5",
        "3,5",
        "null",
        "=1+1",
        "+1",
        "-5 cm",
        "@home",
        '"quoted"',
        "' apostrophe",
        "a\nb",
        "a;b\tc",
        "毛糸 – ½ £",
    ],
)
def test_words_stay_words(tmp_path, note):
    """What looks like a number, a date, nothing or a formula is kept as it was typed."""
    first = add(tmp_path, note=note)
    add(tmp_path, note="later")
    assert read_measurements(tmp_path)[0] == first
    assert read_measurements(tmp_path)[0].note == note


@pytest.mark.parametrize("yarn", ["NA", "007", "None", "nan", "1E5", "true"])
def test_odd_names_of_yarns(tmp_path, yarn):
    add(tmp_path, yarn=yarn)
    (m,) = read_measurements(tmp_path)
    assert m.yarn == yarn
    assert Calibration([evidence_in(m)], ["A"]).multiplier(yarn, "stockinette").stitches == 54


def test_a_yarn_called_na_on_the_chart(tmp_path):
    (tmp_path / "chart.csv").write_text("NA,NA,B\n")
    (tmp_path / "yarns.csv").write_text(
        "letter,name,metres_per_ball,grams_per_ball,dye_lot\nNA,007,100,50,007\nB,NA,100,50,1E5\n"
    )
    logged(tmp_path, lambda number: measured(number, yarn="NA"))
    project = open_project(tmp_path)
    assert [(y.letter, y.name, y.dye_lot) for y in project.yarns.values()] == [
        ("NA", "007", "007"),
        ("B", "NA", "1E5"),
    ]
    assert calibration_of(project).multiplier("NA", "stockinette").stitches == 54


# What cannot be understood


def with_cells(lines, **cells):
    """The second line with these cells in place of its own."""
    row = lines[1].rstrip("\n").split(",")
    for name, cell in cells.items():
        row[COLUMNS.index(name)] = cell
    return "".join([lines[0], ",".join(row) + "\n", *lines[2:]])


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (
            lambda t: with_cells(t, length_cm='"98,500"'),
            ["measurements.csv", "number 1", "length", "98,500", 'decimal point: "98.500"'],
        ),
        (lambda t: with_cells(t, gauge_stitches='"20,5."'), ["number 1", "gauge", "20,5."]),
        (
            lambda t: with_cells(t, number="2"),
            ["measurements.csv", "two lines with the number 2", "a number of its own"],
        ),
        (lambda t: with_cells(t, number="1.5"), ["measurements.csv", "1.5", "a whole number"]),
        (lambda t: with_cells(t, number="one"), ["measurements.csv", '"one"', "not a number"]),
        (
            lambda t: with_cells(t, date=""),
            ["measurements.csv", "number 1", "date is empty", "Fill it in"],
        ),
        (
            lambda t: with_cells(t, date="14/03/2026"),
            ["Measurement 1", "date", "14/03/2026", "2026-03-14"],
        ),
        (
            lambda t: with_cells(t, way=""),
            ["measurements.csv", "number 1", "way is empty", "Fill it in"],
        ),
        (lambda t: with_cells(t, yarn=""), ["measurements.csv", "number 1", "yarn is empty"]),
        (
            lambda t: with_cells(t, gauge_stitches=""),
            ["measurements.csv", "number 1", "gauge", "is empty"],
        ),
        (lambda t: with_cells(t, stitches=""), ["Measurement 1", "stitches is 0", "more than 0"]),
        (lambda t: with_cells(t, length_cm=""), ["Measurement 1", "length", "more than 0"]),
        (
            lambda t: with_cells(t, stitches="many"),
            ["measurements.csv", "number 1", "stitches", '"many"', "not a number"],
        ),
        (lambda t: with_cells(t, stitches="1e400"), ["number 1", "stitches", "1e400"]),
        (
            lambda t: with_cells(t, way="guess"),
            ["Measurement 1", '"guess"', "marked length", "supply"],
        ),
        (lambda t: with_cells(t, use="maybe"), ["Measurement 1", '"maybe"', "yes or no"]),
        (lambda t: with_cells(t, corrects="x"), ["number 1", "corrects", '"x"']),
        (
            lambda t: with_cells(t, note="one,more"),
            ["measurements.csv line 2", "more cells than the header", "Quote"],
        ),
        (lambda t: with_cells(t, note='"never closed'), ["measurements.csv", "quotation mark"]),
        (
            lambda t: t[0].replace("gauge_stitches", "gage") + t[1],
            ["measurements.csv", "gauge_stitches"],
        ),
        (lambda t: t[0].replace("wraps", "laps") + t[1], ["measurements.csv", '"laps"', "wraps"]),
        (
            lambda t: "".join(t).replace("one", "§").encode("latin-1"),
            ["measurements.csv line 2", "UTF-8"],
        ),
    ],
)
def test_what_is_wrong_is_said_and_the_file_left_as_it_is(tmp_path, edit, words):
    path = tmp_path / "measurements.csv"
    text = edit(lines_of(tmp_path))
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    before = path.read_bytes()
    for attempt in (read_measurements, add):
        with pytest.raises(PlanError) as caught:
            attempt(tmp_path)
        message = str(caught.value)
        assert [word for word in words if word not in message] == [], message
    assert path.read_bytes() == before
    assert leftovers(tmp_path) == []


def test_a_line_without_a_number_is_named_by_its_place(tmp_path):
    """There is no number to find it by, so the message gives the line of the file."""
    (tmp_path / "measurements.csv").write_text(with_cells(lines_of(tmp_path), number=""))
    with pytest.raises(PlanError, match=r"measurements\.csv.*line 2.*number is empty"):
        read_measurements(tmp_path)


@pytest.mark.parametrize(
    "wrong",
    [
        {"stitches": 0},
        {"length_cm": -1},
        {"gauge_stitches": 0},
        {"way": SUPPLY, "wound_cm": 100, "left_cm": 120},
        {
            "way": SUPPLY,
            "wound_cm": 100,
            "left_cm": 90,
            "tails_cm": 30,
        },  # nothing left for the stitches
        {"way": "weighed swatch", "grams": 8},  # of a yarn without metres per gram
    ],
)
def test_what_is_impossible_is_not_written(tmp_path, wrong):
    add(tmp_path)
    before = (tmp_path / "measurements.csv").read_bytes()
    with pytest.raises(PlanError):
        add(tmp_path, **wrong)
    assert (tmp_path / "measurements.csv").read_bytes() == before
    assert leftovers(tmp_path) == []


@pytest.mark.parametrize(
    "wrong",
    [{"date": ""}, {"date": " "}, {"yarn": " "}, {"note": "a\rb"}, {"note": "a\0b"}],
    ids=repr,
)
def test_a_line_that_could_not_be_read_again_is_not_written(tmp_path, wrong):
    """It is refused, or it reads back: never may one line keep the whole log from being read."""
    first = add(tmp_path)
    try:
        add(tmp_path, **wrong)
    except PlanError:
        assert read_measurements(tmp_path) == (first,)
    else:
        assert len(read_measurements(tmp_path)) == 2


def test_a_busy_file_is_said_in_words(tmp_path, monkeypatch):
    """Another program, or thread, holds the folder: after a while the knitter is told, and nothing
    is written."""
    add(tmp_path)
    path = tmp_path / "measurements.csv"
    before, lock = path.read_bytes(), FileLock(tmp_path / transaction.LOCK)
    monkeypatch.setattr(transaction, "LOCK_WAIT_S", 0.05)
    monkeypatch.setattr(transaction, "_locks", {})
    with lock, pytest.raises(PlanError, match=rf"{tmp_path.name} is in use by another"):
        add(tmp_path)
    with locked_folder(tmp_path), ThreadPoolExecutor(1) as pool:
        refused = pool.submit(add, tmp_path).exception()
    assert f"{tmp_path.name} is in use by another" in str(refused)
    assert path.read_bytes() == before
    assert add(tmp_path).number == 2


def test_a_disk_that_fails_leaves_the_old_file(tmp_path, monkeypatch):
    add(tmp_path)
    path = tmp_path / "measurements.csv"
    before = path.read_bytes()

    def no_space(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    with pytest.raises((OSError, PlanError)):
        add(tmp_path)
    assert path.read_bytes() == before
    assert leftovers(tmp_path) == []


# The knitter's own choices

CHOICE = OwnChoice("supply", "B", 1, 1, "whole", "bobbin")


def test_choices_are_added_line_by_line(tmp_path):
    """The last one holds, an empty one withdraws; what was written stays."""
    write(tmp_path)
    path = tmp_path / "choices.csv"
    chosen(tmp_path, CHOICE, strand_then="B1", now=lambda: datetime(2025, 3, 1))
    columns = "date,about,yarn,row,stitch,part,choice,strand_then"
    assert path.read_text() == f"{columns}\n2025-03-01,supply,B,1,1,whole,bobbin,B1\n"
    texts = [path.read_text()]
    steps = [
        (replace(CHOICE, choice="butterfly"), (replace(CHOICE, choice="butterfly"),)),
        (
            replace(CHOICE, yarn="A", row=2),
            (replace(CHOICE, choice="butterfly"), replace(CHOICE, yarn="A", row=2)),
        ),
        (replace(CHOICE, choice=""), (replace(CHOICE, yarn="A", row=2),)),
        (CHOICE, (replace(CHOICE, yarn="A", row=2), CHOICE)),
    ]
    for choice, held in steps:
        chosen(tmp_path, choice)
        assert read_choices(path) == held
        texts.append(path.read_text())
    assert all(
        after.startswith(before) and after.count("\n") == before.count("\n") + 1
        for before, after in pairwise(texts)
    )


def test_a_choice_is_followed(tmp_path):
    write(tmp_path)
    assert make_plan(open_project(tmp_path)).supplies.supply.tolist() == [
        "loose strand",
        "loose strand",
    ]
    chosen(tmp_path, CHOICE)
    held = make_plan(open_project(tmp_path)).supplies.set_index("strand")
    assert held.loc["B1", ["supply", "chosen"]].tolist() == ["bobbin", "by you"]


def test_a_choice_for_a_strand_that_is_no_more_is_kept_and_noted(tmp_path):
    write(
        tmp_path,
        choices="about,yarn,row,stitch,choice\nsupply,B,1,1,bobbin\nsupply,A,2,2,from the ball\n",
    )
    before = contents(tmp_path)
    plan = make_plan(open_project(tmp_path))
    assert plan.supplies.set_index("strand").supply.to_dict() == {
        "B1": "bobbin",
        "A1": "loose strand",
    }
    assert [
        note
        for note in plan.notes
        if "from the ball" in note
        and "A" in note
        and "row 2" in note
        and "stitch 2" in note
        and "kept" in note
    ]
    assert len(plan.notes) == 1
    assert contents(tmp_path) == before


def test_choices_about_other_things_are_let_be(tmp_path):
    write(tmp_path, choices="about,yarn,row,stitch,choice\nbeads,B,1,1,yes\n")
    plan = make_plan(open_project(tmp_path))
    assert plan.notes == ()
    assert plan.supplies.chosen.tolist() == ["suggested", "suggested"]


COLUMNS_OF_CHOICES = "date,about,yarn,row,stitch,part,choice,strand_then"
ONE_CHOICE = f"{COLUMNS_OF_CHOICES}\n2025-03-01,supply,A,1,3,whole,bobbin,A1\n"
OTHER_ORDER = "yarn,about,row,stitch,part,choice,strand_then,date\nA,supply,1,3,whole,bobbin,A1,"


@pytest.mark.parametrize(
    "text",
    [
        ONE_CHOICE.rstrip(),
        ONE_CHOICE.replace("\n", "\r\n"),
        "\ufeff" + ONE_CHOICE.replace(",", ";").replace("\n", "\r\n"),
        ONE_CHOICE.replace(",", "\t").encode("utf-16"),
        "about,yarn,row,stitch,choice\nsupply,A,1,3,bobbin\n",
        OTHER_ORDER + "2025-03-01\n",
        "",
    ],
    ids=[
        "no line end",
        "CRLF",
        "semicolons",
        "tabs in UTF-16",
        "columns of need only",
        "other order",
        "empty",
    ],
)
def test_a_choice_goes_into_the_file_as_a_spreadsheet_saved_it(tmp_path, text):
    """The old choice and the new one are both there afterwards."""
    write(tmp_path, choices=text)
    before = read_choices(tmp_path / "choices.csv")
    assert len(before) == bool(text)
    chosen(tmp_path, CHOICE, strand_then="B1")
    assert read_choices(tmp_path / "choices.csv") == (*before, CHOICE)


def test_two_writers_take_turns(tmp_path):
    """While one holds the file's lock another waits; afterwards both lines are there."""
    write(tmp_path)
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda row: chosen(tmp_path, replace(CHOICE, row=row)), range(1, 21)))
    assert sorted(choice.row for choice in read_choices(tmp_path / "choices.csv")) == list(
        range(1, 21)
    )
