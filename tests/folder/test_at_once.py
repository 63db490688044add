"""Several at one piece: two views in turn, four processes at once, what each has touched merged."""

import subprocess
import sys
import textwrap
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, settings

from planner import CarryLimits, Chart, Gauge, PlanError, Project, open_project
from planner.folder import change_piece, merged, read_measurements, see
from planner.piece import Habits, Yarn
from tests.helpers.folders import ENVIRONMENT, leftovers, write
from tests.helpers.two_views import TwoViews

TestTwoViews = TwoViews.TestCase
TestTwoViews.settings = settings(
    max_examples=5,
    stateful_step_count=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)

# Several at once, real processes

MANY = """
    import sys
    from dataclasses import replace
    from planner.folder import keep, open_project, with_measurement
    from planner.piece import MARKED, Measurement, Yarn
    folder, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    for i in range(count):
        values = {"stitches": 54, "length_cm": 100 + i, "note": name}
        make = lambda number: Measurement(number, "2026-03-02", MARKED, "A", 20, **values)

        def change(held):
            yarns = {**held.yarns, name: Yarn(name, f"{name} {i}")}
            log = with_measurement(held.measurements, make)
            return replace(held, measurements=log, yarns=yarns)

        keep(open_project(folder), change)
"""


def test_four_processes_at_once(tmp_path):
    """Each logs 15 measurements and names its yarn anew with every one: all 60 are there, each with
    a number of its own, in each one's order; each yarn has its last name."""
    write(tmp_path)
    command = [sys.executable, "-c", textwrap.dedent(MANY), tmp_path]
    writers = [subprocess.Popen([*command, name, "15"], env=ENVIRONMENT) for name in "CDEF"]
    assert [writer.wait(120) for writer in writers] == [0] * 4
    log, yarns = read_measurements(tmp_path), open_project(tmp_path).yarns
    assert [m.number for m in log] == list(range(1, 61))
    for name in "CDEF":
        assert [m.length_cm for m in log if m.note == name] == [100 + i for i in range(15)]
        assert yarns[name].name == f"{name} 14"
    assert leftovers(tmp_path) == []


def test_a_change_is_made_though_others_never_rest(tmp_path):
    """Whenever it is ready another has changed the piece; in the last try that one has to wait."""
    write(tmp_path)
    seen, tries = see(tmp_path), []

    def disturbed(held):
        tries.append(held.measurements)
        if len(tries) < 3:
            text = (tmp_path / "yarns.csv").read_text()
            (tmp_path / "yarns.csv").write_text(f"{text}{'CDE'[len(tries)]},x\n")
        return replace(held, units="in")

    after, _ = change_piece(seen, disturbed, check=lambda _: None)
    assert len(tries) == 3
    assert open_project(tmp_path) == after.project
    assert set(after.project.yarns) == {"A", "B", "D", "E"}


# Merging


def piece(rows=("AAA", "ABA"), **asked):
    return Project("x", Chart.from_rows(list(rows)), **asked)


HERE = {
    "a field each of one kind": (
        piece(habits=Habits(crowded=20)),
        piece(habits=Habits(narrow_stitches=7)),
        piece(habits=Habits(crowded=20, narrow_stitches=7)),
    ),
    "the same field": (
        piece(habits=Habits(crowded=20)),
        piece(habits=Habits(crowded=30)),
        piece(habits=Habits(crowded=20)),
    ),
    "a gauge counted over another length is another gauge": (
        piece(gauge=Gauge(21, 30)),
        piece(gauge=Gauge(24, 32, 4, "in")),
        piece(gauge=Gauge(21, 30)),
    ),
    "a yarn each": (
        piece(yarns={"A": Yarn("A", "Rust")}),
        piece(yarns={"B": Yarn("B", "Sea")}),
        piece(yarns={"A": Yarn("A", "Rust"), "B": Yarn("B", "Sea")}),
    ),
    "one new yarn": (
        piece(yarns={"C": Yarn("C", "Rust")}),
        piece(yarns={"C": Yarn("C", balls_in_hand=2)}),
        piece(yarns={"C": Yarn("C", "Rust", balls_in_hand=2)}),
    ),
    "limits of one yarn": (
        piece(by_yarn={"A": CarryLimits(1)}),
        piece(by_yarn={"B": CarryLimits(2)}),
        piece(by_yarn={"A": CarryLimits(1), "B": CarryLimits(2)}),
    ),
    "cells, with a new letter each": (piece(["CAA", "ABA"]), piece(["AAD", "ABA"]),
                                      piece(["CAD", "ABA"])),
    "a letter that goes, and one that comes": (piece(["AAA", "AAA"]), piece(["AAA", "ABE"]),
                                               piece(["AAA", "AAE"])),
    "another size, and nothing": (piece(["AB"]), piece(), piece(["AB"])),
    "nothing, and another size": (piece(), piece(["AB"]), piece(["AB"])),
}  # fmt: skip


@pytest.mark.parametrize("name", HERE)
def test_what_was_touched_is_put_into_what_is_held(name):
    touched, held, both = HERE[name]
    assert merged(piece(), touched, held) == both


def test_a_removed_yarn_stays_removed_and_others_stay():
    before = piece(yarns={"A": Yarn("A"), "B": Yarn("B")})
    touched = replace(before, yarns={"B": Yarn("B")})
    held = replace(before, yarns={**before.yarns, "C": Yarn("C")})
    assert set(merged(before, touched, held).yarns) == {"B", "C"}


@pytest.mark.parametrize(
    ("touched", "held"), [(["AB"], ["ABA", "ABA"]), (["ABA", "ABA"], ["AB"]), (["AB"], ["ABB"])]
)
def test_a_chart_of_another_size_is_not_merged(touched, held):
    with pytest.raises(PlanError, match=f"it has {len(held[0])} stitches × {len(held)} rows"):
        merged(piece(), piece(touched), piece(held))


def test_no_stitch_is_merged_as_any_cell():
    before, touched, held = piece(["A.A"]), piece(["AAA"]), piece([".AA"])
    assert merged(before, touched, held).chart == Chart.from_rows([".AA"])
    assert merged(before, held, before).chart == held.chart
