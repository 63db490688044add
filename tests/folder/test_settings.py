"""piece.toml written back: what changed and no more, the knitter's comments in their places."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, PlanError, open_project
from planner.folder import with_units
from planner.piece.settings import Allowances, Habits, MultiplierChoice, OwnChoice
from tests.helpers.folders import GOOD, chosen, comments, contents, kept, leftovers, write

COMMENTED = """# My scarf, for the harbour fair.
format = 1
name = "Scarf"   # or shawl

[gauge]  # counted on the washed swatch
stitches = 20  # twice
rows = 28
# in rows, not ridges

[limits]
across = 0
sideways = "2.5 cm"
# The ground may run behind the mast.
[limits.by_yarn.A]  # the ground
across = 1  # one stitch wide
# that is all

[habits]
table = false  # on the train
# the end
"""


def test_the_knitters_comments_stay(tmp_path):
    piece = open_project(write(tmp_path, piece=COMMENTED))
    kept(piece, gauge=replace(piece.gauge, stitches=21))
    text = (tmp_path / "piece.toml").read_text()
    left = comments(text)
    assert [comment for comment in comments(COMMENTED) if comment not in left] == []
    assert "stitches = 21  # twice" in text


CHANGES = {
    "gauge": Gauge("33 over 6, 34.25 over 6", "22.5 over 3", unit="in"),
    "how": Construction("turned", "WS", "left", "garter"),
    "limits": CarryLimits(2, "2.5 cm", 0, False),
    "by_yarn": {"A": CarryLimits(1, 5, "1 in"), "B": CarryLimits(middle_start=False)},
    "allow": Allowances(10.5, 0, 0, 10, 15, 0.1, 0.2, swatch_in="no yarn"),
    "habits": Habits(
        200, 900, 2500.5, 2, "sofa", "30-60 train; 80–90 table", True, False, "long", 3, 4, 9, 12.5
    ),
    "multiplier": MultiplierChoice("own", 3.85, 0.1),
    "units": "in",
    "name": 'Schal "Möwe" – äöü',
}


@pytest.mark.parametrize(
    "start",
    [
        "",
        COMMENTED,
        GOOD["piece.toml"],
        "limits = {across = 1}\n",
        "gauge.stitches = 20\r\ngauge.rows = 28\r\n",
    ],
)
def test_settings_come_back_as_they_were_kept(tmp_path, start):
    """One after another, each taken back, all together, and all taken back."""
    first = open_project(write(tmp_path, piece=start))
    for name, value in CHANGES.items():
        changed = kept(first, **{name: value})
        assert open_project(tmp_path) == changed == replace(first, **{name: value}), name
        kept(changed, **{name: getattr(first, name)})
        assert open_project(tmp_path) == first
    changed = kept(first, **CHANGES)
    assert open_project(tmp_path) == changed == replace(first, **CHANGES)
    kept(changed, **{name: getattr(first, name) for name in CHANGES})
    assert open_project(tmp_path) == first


@pytest.mark.parametrize(
    "gauge",
    [
        Gauge(22.5, 30.25, 4, "in"),
        Gauge(),
        Gauge("33 over 6, 34 over 6", "22.5 over 3", unit="in"),
        Gauge("20 over 10, 0.1 over 0.05", 28),
        Gauge(20, "28 over 10, 14 over 5.5", 12.5),
    ],
)
@pytest.mark.parametrize("units", ["cm", "in"])
def test_a_gauge_comes_back_as_it_was_counted(tmp_path, gauge, units):
    """Written whole, written over another one, and written after it."""
    first = open_project(write(tmp_path, piece=COMMENTED))
    counted = kept(first, gauge=gauge, units=units)
    assert open_project(tmp_path).gauge == gauge
    again = kept(counted, gauge=Gauge(24, 32, 4, "in"))
    assert open_project(tmp_path).gauge == Gauge(24, 32, 4, "in")
    kept(again, gauge=gauge)
    assert open_project(tmp_path).gauge == gauge
    assert "# twice" in (tmp_path / "piece.toml").read_text()


def test_counts_stand_in_the_file_as_they_are_said(tmp_path):
    counted = 'units = "in"\n[gauge]\nstitches = "33 over 6, 34 over 6"\nrows = "22.5 over 3"\n'
    piece = open_project(write(tmp_path, piece=counted + 'unit = "in"\n'))
    assert str(piece.gauge) == "33 and 34 stitches over 6 in, 22.5 rows over 3 in"
    kept(kept(piece, gauge=Gauge()), gauge=piece.gauge)
    text = (tmp_path / "piece.toml").read_text()
    assert counted.split("\n", 1)[1] in text
    assert "over = " not in text


# Lengths that are usual


def usual(piece):
    """Tail, swatch, wrap, and the longest loose strand, butterfly and bobbin, in cm."""
    allow, habits = piece.allow, piece.habits
    longest = (habits.loose_up_to_cm, habits.butterfly_up_to_cm, habits.bobbin_up_to_cm)
    return allow.tail_cm, allow.swatch_cm, habits.wrap_cm, *longest


def test_usual_lengths_are_round_in_the_units_of_the_piece(tmp_path):
    """6, 5 and 8 in, 3, 12 and 30 yd (an inch is 2.54 cm, by definition)."""
    assert usual(open_project(write(tmp_path))) == (15, 12, 20, 275, 1100, 2700)
    piece = open_project(write(tmp_path, piece='units = "in"\n'))
    in_inches = [6 * 2.54, 5 * 2.54, 8 * 2.54, 3 * 91.44, 12 * 91.44, 30 * 91.44]
    assert usual(piece) == pytest.approx(in_inches)
    assert piece.gauge == Gauge(22, 30, 4, "in")


def test_what_the_file_says_holds_in_any_units(tmp_path):
    said = 'units = "in"\n[allowances]\ntail_cm = 15\n[habits]\nbutterfly_up_to_cm = 1100\n'
    piece = open_project(write(tmp_path, piece=said))
    assert (piece.allow.tail_cm, piece.habits.butterfly_up_to_cm) == (15, 1100)
    assert (piece.allow.swatch_cm, piece.habits.loose_up_to_cm) == (12.7, 274.32)


@pytest.mark.parametrize("said", ["", "[allowances]\ntail_cm = 15  # or so\ncast_on = 3\n"])
def test_usual_lengths_follow_the_units_through_the_folder(tmp_path, said):
    """Into inches and back, kept each time; a swatch of 20 cm stays one."""
    first = open_project(write(tmp_path, piece=said))
    own = kept(first, allow=replace(first.allow, swatch_cm=20))
    inches = kept(own, **with_units(own, "in"))
    assert open_project(tmp_path) == inches
    assert usual(inches)[:3] == (15.24, 20, 20.32)
    back = kept(inches, **with_units(inches, "cm"))
    assert open_project(tmp_path) == back == own


def test_units_changed_alone_leave_every_length(tmp_path):
    """In a script no length follows, and what is read back is what was saved."""
    first = open_project(write(tmp_path))
    inches = kept(first, units="in")
    assert open_project(tmp_path) == inches
    assert usual(inches)[0] == 15


def test_usual_lengths_are_not_written(tmp_path):
    piece = open_project(write(tmp_path, piece='units = "in"\n'))
    kept(piece, name="Shawl", allow=replace(piece.allow, cast_on=3))
    text = (tmp_path / "piece.toml").read_text()
    assert "_cm" not in text
    assert "cast_on = 3" in text


@pytest.mark.parametrize(
    ("lines", "place"),
    [
        ("table = false", "train"),
        ("table = true", "table"),
        ('table = false\nplace = "sofa"', "sofa"),
        ("", "table"),
    ],
)
def test_where_an_older_file_says_only_whether_there_is_a_table(tmp_path, lines, place):
    """Without a table it is the train, unless the place is said; saved, only the place is left."""
    piece = open_project(write(tmp_path, piece=f"[habits]\n{lines}\n"))
    assert piece.habits == Habits(place=place)
    for changed in (Habits(place="sofa", balls_on_table=3), Habits()):
        piece = kept(piece, habits=changed)
        assert open_project(tmp_path).habits == changed


def test_keeping_what_is_there_already_writes_nothing(tmp_path):
    piece = open_project(write(tmp_path, piece=COMMENTED))
    before = contents(tmp_path)
    kept(piece)
    kept(piece, gauge=piece.gauge, chart=Chart.from_rows(piece.chart.to_rows()))
    assert contents(tmp_path) == before


def test_nothing_else_is_left_in_the_folder(tmp_path):
    """No half-written files; chart and yarns are not touched; what was stands in the history."""
    write(tmp_path)
    before = contents(tmp_path)
    kept(open_project(tmp_path), units="in")
    chosen(tmp_path, OwnChoice("supply", "A", 1, 1, "whole", "bobbin"))
    after = contents(tmp_path)
    (version,) = set(after) - {*before, "choices.csv"}
    assert version.startswith("history/")
    assert leftovers(tmp_path) == []
    assert {name: after[name] for name in ("chart.csv", "yarns.csv")} == {
        name: before[name] for name in ("chart.csv", "yarns.csv")
    }


def test_a_project_made_in_a_script_has_no_folder(tmp_path):
    piece = replace(open_project(write(tmp_path)), folder=None)
    with pytest.raises(PlanError, match="no folder"):
        kept(piece, units="in")


def test_two_notebooks_keep_what_each_has_changed(demo_copy):
    """One keeps a gauge, the other, opened before, a tail: both stay."""
    one, other = open_project(demo_copy), open_project(demo_copy)
    kept(one, gauge=Gauge(23, 30))
    kept(other, allow=replace(other.allow, tail_cm=12))
    both = open_project(demo_copy)
    assert (both.gauge, both.allow.tail_cm) == (Gauge(23, 30), 12)


def test_needle_and_notes_are_kept_and_go_when_they_are_empty(tmp_path):
    """They stand above the parts; what is empty is not written."""
    piece = open_project(write(tmp_path, piece=COMMENTED))
    kept(piece, needle="4 mm", notes='Wash cold.\nHer "red" runs.')
    after = open_project(tmp_path)
    assert (after.needle, after.notes) == ("4 mm", 'Wash cold.\nHer "red" runs.')
    kept(after, needle="", notes="")
    text = (tmp_path / "piece.toml").read_text()
    assert "needle" not in text
    assert "notes" not in text
    left = comments(text)
    assert [comment for comment in comments(COMMENTED) if comment not in left] == []


def test_a_needle_is_written_in_quotation_marks(tmp_path):
    with pytest.raises(PlanError, match="needle is 4; put it in quotation marks"):
        open_project(write(tmp_path, piece="needle = 4\n"))
