"""piece.toml written back: what changed and no more, the knitter's comments in their places."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Construction, Gauge, PlanError, open_project
from planner.folder import keep_choice, save_settings
from planner.piece.settings import Allowances, Habits, MultiplierChoice, OwnChoice
from tests.helpers.folders import GOOD, comments, contents, write

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
    save_settings(replace(piece, gauge=replace(piece.gauge, stitches=21)))
    text = (tmp_path / "piece.toml").read_text()
    kept = comments(text)
    assert [comment for comment in comments(COMMENTED) if comment not in kept] == []
    assert "stitches = 21  # twice" in text


CHANGES = {
    "gauge": Gauge(22.5, 30.25, 4, "in"),
    "how": Construction("rounds", "WS", "left", "garter"),
    "limits": CarryLimits(2, "2.5 cm", 0, False),
    "by_yarn": {"A": CarryLimits(1, 5, "1 in"), "B": CarryLimits(middle_start=False)},
    "allow": Allowances(10.5, 0, 0, 10, 15, 0.1, 0.2),
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
def test_settings_come_back_as_they_were_saved(tmp_path, start):
    """One after another, all together, and all taken back."""
    first = open_project(write(tmp_path, piece=start))
    assert save_settings(first) == tmp_path / "piece.toml"
    assert open_project(tmp_path) == first
    for name, value in CHANGES.items():
        changed = replace(first, **{name: value})
        save_settings(changed)
        assert open_project(tmp_path) == changed, name
    save_settings(replace(first, **CHANGES))
    assert open_project(tmp_path) == replace(first, **CHANGES)
    save_settings(first)
    assert open_project(tmp_path) == first


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
        save_settings(replace(piece, habits=changed))
        assert open_project(tmp_path).habits == changed


def test_saving_the_same_settings_again_changes_nothing(tmp_path):
    piece = open_project(write(tmp_path, piece=COMMENTED))
    save_settings(piece)
    once = (tmp_path / "piece.toml").read_bytes()
    save_settings(open_project(tmp_path))
    assert (tmp_path / "piece.toml").read_bytes() == once


def test_nothing_else_is_left_in_the_folder(tmp_path):
    """No half-written files; chart and yarns are not touched."""
    write(tmp_path)
    before = contents(tmp_path)
    save_settings(open_project(tmp_path))
    keep_choice(tmp_path, OwnChoice("supply", "A", 1, 1, "whole", "bobbin"))
    after = contents(tmp_path)
    assert set(after) == {*before, "choices.csv"}
    assert {name: after[name] for name in ("chart.csv", "yarns.csv")} == {
        name: before[name] for name in ("chart.csv", "yarns.csv")
    }


def test_a_project_made_in_a_script_has_no_folder(tmp_path):
    piece = replace(open_project(write(tmp_path)), folder=None)
    with pytest.raises(PlanError, match="no folder"):
        save_settings(piece)


def test_two_notebooks_keep_what_each_has_changed(demo_copy):
    """One keeps a gauge, the other, opened before, a tail: both stay."""
    one, other = open_project(demo_copy), open_project(demo_copy)
    save_settings(replace(one, gauge=Gauge(23, 30)), kept=one)
    save_settings(replace(other, allow=replace(other.allow, tail_cm=12)), kept=other)
    both = open_project(demo_copy)
    assert (both.gauge, both.allow.tail_cm) == (Gauge(23, 30), 12)
