"""Lengths in stitches of yarn, multiplied back: by the records, and by what is printed."""

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from planner import make_plan
from planner.edition import (
    handout_of,
    lengths_in_stitches,
    make_edition,
    make_lesson,
    pattern_of,
    plain_text,
)
from planner.piece import Allowances, MultiplierChoice
from planner.supplies import TO_EMBROIDER
from tests.helpers.carded import case, every_case
from tests.helpers.choices import embroider
from tests.helpers.plans import demo, every_random_plan, plan_of, random_plan, stripes

# As a reader reads a line of the list of lengths.
LINE = re.compile(
    r"- (?P<labels>[^.]+)\. Yarn: (?P<yarn>[^;]+); how: .*?; from (?:row|round): \S+; "
    r"stitches: (?:each )?(?P<stitches>\d+); widths: (?P<widths>\d+); tails: (?P<tails>\d); "
    r"ours: (?P<ours>[^;]+); our margin: (?P<margin>[\d.]+) cm; yours: _+\."
)


def multiplied(plan, each):
    """A length by the sum of the edition, cm."""
    width_cm = plan.project.gauge.stitch_cm
    figure_cm = plan.multipliers[each.yarn].value * width_cm
    beside_cm = each.widths * width_cm + each.tails * plan.project.allow.tail_cm
    return each.stitches * figure_cm + beside_cm + each.margin_cm


def check_back(plan):
    """Every piece of the winding list once, its length and what is measured off."""
    lengths = lengths_in_stitches(plan)
    for each in lengths:
        assert multiplied(plan, each) == pytest.approx(each.length_cm, abs=1e-6)
    units = plan.project.units
    told, planned = Counter(), Counter()
    for each in lengths:
        told[each.yarn] += each.measured_cm(units)
    for piece in plan.pieces:
        planned[piece.yarn] += piece.to_measure_cm(units)
    assert told == pytest.approx(planned)
    halves = sum(piece.halves_cm is not None for piece in plan.pieces)
    assert len(lengths) == len(plan.pieces) + halves
    return lengths


@every_random_plan
def test_random_plans_come_back(number):
    """Refills, balls and then wound, joined from ball to ball, inches, garter, rounds."""
    check_back(random_plan(number))


@every_case
def test_shaped_pieces_come_back_with_selvedges_and_joins_of_rounds(name, number):
    """Stitches are those of the rows: chart, selvedge, and the yarn-over of a turned round."""
    _, plan = case(name, number)
    lengths = check_back(plan)
    how = plan.project.how
    cells = plan.project.chart.cells >= 0
    rows = how.rows_per_chart_row * len(cells)
    beside = rows * (2 * how.selvedge + int(how.closes_join))
    worked = cells.sum() * how.rows_per_chart_row + beside
    assert sum(each.stitches for each in lengths) == pytest.approx(worked)


def test_what_was_measured_makes_another_figure_and_margin():
    plan = demo("measured")
    lengths = check_back(plan)
    assert len({plan.multipliers[each.yarn].value for each in lengths}) > 1


def test_embroidery_comes_back():
    base = demo().project
    plan = make_plan(replace(base, choices=(embroider("Y", 67, 13),)))
    lengths = check_back(plan)
    (embroidered,) = [each for each in lengths if each.supply == TO_EMBROIDER]
    assert embroidered.stitches == pytest.approx(9 * base.allow.embroider_factor)


def test_a_cast_on_in_one_yarn_is_widths_and_tails():
    allow = Allowances(cast_on=4, bind_off=6, cast_on_in="A")
    lengths = check_back(plan_of(stripes(10, 10, rows=12), allow=allow))
    assert (lengths[0].label, lengths[0].stitches, lengths[0].widths) == ("cast-on", 0, 80)
    assert lengths[0].row == 0


def test_by_hand():
    """Stripes of 10 stitches, 12 rows: 120 stitches, cast on 4 × 10 and bound off 6 × 10 widths."""
    allow = Allowances(tail_cm=15, cast_on=4, bind_off=6)
    for each in lengths_in_stitches(plan_of(stripes(10, 10, rows=12), allow=allow)):
        assert (each.stitches, each.widths, each.tails, each.margin_cm) == (120, 100, 2, 0)
        # 2 cm of yarn to the stitch, stitches 5 mm wide.
        assert each.length_cm == 120 * 2 + 100 * 0.5 + 2 * 15


def test_tails_of_joined_pieces():
    """Each piece between two joins has two, the halves of a middle start one each."""
    for plan in map(random_plan, (0, 1, 2)):
        lengths = lengths_in_stitches(plan)
        labels = [each.label for each in lengths]
        for each in lengths:
            is_half = each.label[-1] in "ab"
            is_cut_later = any(label.startswith(f"{each.label} from row") for label in labels)
            if not (is_half or is_cut_later or " from row " in each.label):
                assert each.tails == 2


@pytest.mark.parametrize("way", ["estimate", "measured", "rule of three"])
def test_what_is_printed_gives_the_plan_to_the_rounding(way):
    """A reader with the designer's figure, multiplying what the plain text says."""
    edition = make_edition(demo(way))
    plan, text = edition.plan, plain_text(pattern_of(edition)).decode()
    lines = list(LINE.finditer(re.sub(r"\n  ", " ", text)))
    found = {label: match for match in lines for label in match["labels"].split(", ")}
    assert set(found) == {each.label for each in edition.lengths}
    for each in edition.lengths:
        match = found[each.label]
        figure_cm = plan.multipliers[match["yarn"]].value * plan.project.gauge.stitch_cm
        sum_cm = int(match["stitches"]) * figure_cm + int(match["widths"]) * 0.5
        sum_cm += int(match["tails"]) * 15 + float(match["margin"])
        # Stitches and widths are whole ones, none too few; margins to the millimetre.
        assert -0.06 <= sum_cm - each.length_cm <= figure_cm + 0.5 + 0.06
        assert match["ours"] == f"{np.ceil(each.length_cm / 5 - 1e-9) * 0.05:.2f} m"


def test_the_example_has_both_results():
    """Each printed sum adds up, ours with the margin and a reader's with the tenth instead."""
    lesson = make_lesson(demo().project)
    text = " ".join(plain_text(handout_of(lesson)).decode().split())
    ours, hers = re.search(r"An example, (.*?) A reader's length, (.*?) Cut the ", text).groups()
    (each,) = [one for one in lesson.lengths if one.label == ours.split(".")[0]]
    sums = []
    for words in (ours, hers):
        parts = re.findall(r"(?:stitches × [\d.]+|widths|tails?|margin) = (\d+(?:\.\d+)?)", words)
        together = float(re.search(r"Together ([\d.]+) cm", words)[1])
        assert sum(map(float, parts)) == pytest.approx(together, abs=0.2)
        measured = float(re.search(r"([\d.]+) m\.", words)[1])
        assert measured == pytest.approx(np.ceil(together / 5 - 1e-9) * 0.05)
        sums.append((together, len(parts)))
    assert [parts for _, parts in sums] == [4, 3]
    assert sums[0][0] == pytest.approx(each.length_cm, abs=0.1)
    # A tenth on the printed figure of a stitch, by hand, in the place of the margin.
    a_stitch = float(re.search(r"stitches × ([\d.]+)", ours)[1])
    by_hand = each.stitches * a_stitch * 1.1 + each.widths * 0.5 + each.tails * 15
    assert sums[1][0] == pytest.approx(by_hand, abs=0.1)


def test_a_reader_of_another_hand_has_enough():
    """Two hands ten per cent apart: by her own figure and a tenth, no length is short."""
    ours = replace(demo().project, multiplier=MultiplierChoice("own", 3.6, 0))
    hers = make_plan(replace(ours, multiplier=MultiplierChoice("own", 3.96, 0)))
    used_cm = {each.label: each.length_cm for each in lengths_in_stitches(hers)}
    for each in lengths_in_stitches(make_plan(ours)):
        if each.label not in used_cm:
            continue
        her_sum = each.stitches * 3.96 * 0.5 * 1.1 + each.widths * 0.5 + each.tails * 15
        assert her_sum >= used_cm[each.label] - 1e-6
