"""Shades of strands: of their yarn, unlike their neighbours', the same after a small change."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.color import lab2lch, rgb2lab

from planner import CarryLimits, Chart, Project, Yarn, make_plan, open_project
from planner.colour import shades_of
from planner.pictures import strand_grid, strand_shades
from planner.pictures.shades import STEP, choose_steps
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart as random_chart

hexes = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")
COLOURS = ("#000000", "#ffffff", "#243b63", "#e9bb3f")


def lab_of(colour: str) -> np.ndarray:
    """CIELAB of a colour by another program."""
    return rgb2lab(np.array([*bytes.fromhex(colour[1:])]) / 255)


def shaded(plan):
    """The strand of each cell, and the shade of each strand."""
    grid = strand_grid(plan)
    return grid, strand_shades(plan, grid)


def noisy(seed, *, smooth=1, stitches=24, rows=20, changed=None):
    """The plan of a piece of many strands, with one cell of its chart changed if that is said."""
    rows = random_chart(seed, stitches=stitches, rows=rows, yarns=4, smooth=smooth)
    if changed:
        row, column, letter = changed
        rows[row] = rows[row][:column] + letter + rows[row][column + 1 :]
    yarns = {letter: Yarn(letter, colour=c) for letter, c in zip("ABCD", COLOURS, strict=True)}
    limits = CarryLimits(sideways=1, middle_start=False)
    return make_plan(Project("noise", Chart.from_rows(rows), yarns, limits=limits))


@given(hexes)
@settings(max_examples=60)
def test_shades_of_a_colour_are_apart_in_lightness_and_of_its_hue(colour):
    """Its own first; then at least 8 apart, at the hue of CIELAB as far as a screen can."""
    first, *others = shades_of(colour, STEP)
    assert first == colour
    lightness = sorted(lab_of(shade)[0] for shade in (first, *others))
    assert np.diff(lightness).min() >= 8
    # The nearest come first.
    away = [abs(lab_of(shade)[0] - lab_of(first)[0]) for shade in others]
    assert away == pytest.approx(sorted(away), abs=1)
    _, chroma, hue = lab2lch(lab_of(colour))
    for shade in others:
        _, its_chroma, its_hue = lab2lch(lab_of(shade))
        assert its_chroma <= chroma + 2
        if its_chroma > 12:
            turned = np.degrees(abs(its_hue - hue)) % 360
            assert min(turned, 360 - turned) < 6


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("smooth", [0, 2])
def test_neighbours_of_one_yarn_are_apart_in_lightness(seed, smooth):
    """Cell by cell, at sides and corners, on yarns from black to white: L* by another program."""
    plan = noisy(seed, smooth=smooth)
    grid, shades = shaded(plan)
    yarn = plan.traced.yarn
    lightness = np.array([lab_of(shade)[0] for shade in shades])
    pairs = (
        (grid[:, 1:], grid[:, :-1]),
        (grid[1:], grid[:-1]),
        (grid[1:, 1:], grid[:-1, :-1]),
        (grid[1:, :-1], grid[:-1, 1:]),
    )
    found = 0
    for these, those in pairs:
        rivals = (these != those) & (yarn[these] == yarn[those])
        found += rivals.sum()
        apart = abs(lightness[these] - lightness[those])[rivals]
        assert (apart >= 8).all()
    assert found > 10


def test_a_strand_with_room_round_it_has_the_colour_of_its_yarn():
    """The demo's stars, its roof and its rock; and the largest strand of each yarn."""
    plan = make_plan(open_project(DEMO))
    _, shades = shaded(plan)
    colours = {letter: yarn.colour for letter, yarn in plan.project.all_yarns.items()}
    for label in ("Y1", "Y5", "R5", "K1", "T1", "N1", "W2"):
        assert shades[plan.traced.labels.index(label)] == colours[label[0]]


@pytest.mark.parametrize("count", [1, 2, 40])
def test_from_one_to_forty_strands_of_a_yarn(count):
    """Stripes that all touch: two shades are enough, whatever their number."""
    rows = ["AB" * count + "A"] + ["A" * (2 * count + 1)] * 3
    limits = CarryLimits(across=0, sideways=0, up=0, middle_start=False)
    yarns = {"A": Yarn("A", colour="#f8f8f8"), "B": Yarn("B", colour="#101010")}
    plan = make_plan(Project("stripes", Chart.from_rows(rows), yarns, limits=limits))
    grid, shades = shaded(plan)
    assert np.bincount(plan.traced.yarn)[1] == count
    top = [shades[strand] for strand in grid[-1]]
    assert set(top[1::2]) <= set(shades_of("#101010", STEP))
    assert all(first != second for first, second in pairwise(top))


def test_where_every_shade_is_taken_the_rarest_is():
    """A strand among three that took both of the two there are."""
    touching = {0: set(), 1: {0}, 2: {1}, 3: {0, 1, 2}}
    nothing = {strand: set() for strand in range(4)}
    assert choose_steps([0, 1, 2, 3], touching, nothing, [2] * 4) == [0, 1, 0, 1]


def test_what_lies_near_is_told_apart_if_a_shade_is_not_far():
    """One near strand is worth two steps; none is worth a ladder."""
    near = {strand: set(range(strand)) for strand in range(4)}
    apart = {strand: set() for strand in range(4)}
    assert choose_steps([0, 1, 2, 3], apart, near, [9] * 4) == [0, 1, 2, 0]


def same_strands(before, after):
    """Pairs of strands that work the same cells in two grids."""
    for strand in np.unique(before[before >= 0]):
        cells = before == strand
        (first, *others) = np.unique(after[cells])
        if not others and (after == first).sum() == cells.sum():
            yield int(strand), int(first)


def test_one_stitch_changed_far_away_leaves_the_shades_of_the_others():
    """The demo with one stitch more of Rust in its boat: all strands that work the same cells keep
    their shades, though the new one makes others be counted anew."""
    project = open_project(DEMO)
    rows = project.chart.to_rows()
    row = len(rows) - 3
    assert rows[row][5] == "T"
    rows[row][5] = "R"
    other = replace(project, chart=Chart.from_rows(rows))
    (before, shades), (after, new_shades) = shaded(make_plan(project)), shaded(make_plan(other))
    pairs = list(same_strands(before, after))
    assert len(pairs) >= 30
    assert any(first != second for first, second in pairs)
    assert [shades[first] for first, _ in pairs] == [new_shades[second] for _, second in pairs]


def test_a_small_change_stays_small_on_crowded_charts():
    """One stitch of each of twelve charts of hundreds of strands: of those that work the same
    cells no more than one in fifty has another shade."""
    kept, changed = 0, 0
    for seed in range(12):
        there = (7, 5 + seed, "ABCD"[seed % 4])
        before, shades = shaded(noisy(seed, smooth=1, stitches=40, rows=30))
        after, new = shaded(noisy(seed, smooth=1, stitches=40, rows=30, changed=there))
        for first, second in same_strands(before, after):
            alike = shades[first] == new[second]
            kept, changed = kept + alike, changed + (not alike)
    assert kept > 500
    assert changed <= kept / 50


def test_two_rows_added_below_leave_all_shades():
    """Shapes, not places, say who chooses first."""
    rows = random_chart(2, stitches=24, rows=20, yarns=4, smooth=1)
    limits = CarryLimits(sideways=1, middle_start=False)
    before, after = (
        shaded(make_plan(Project("x", Chart.from_rows(each), limits=limits)))
        for each in (rows, [*rows, "E" * 24, "E" * 24])
    )
    moved = after[0][2:]
    pairs = list(same_strands(before[0], moved))
    assert len(pairs) > 20
    assert [before[1][a] for a, _ in pairs] == [after[1][b] for _, b in pairs]
