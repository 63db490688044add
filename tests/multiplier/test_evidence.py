"""Evidence: each way of measuring by hand sums, published figures as measurements, questions."""

import math
from dataclasses import replace

import pytest

from planner import Chart, Construction, PlanError, Project
from planner.multiplier.calibration import Calibration, Evidence
from planner.multiplier.evidence import (
    LABEL_ERROR,
    arithmetic,
    calibration_of,
    evidence_in,
    evidence_of,
    judge,
    multipliers_of,
    ratio_of,
    remarks,
    same_as,
)
from planner.piece.log import (
    MARKED,
    SUPPLY,
    UNRAVELLED,
    WAYS,
    WEIGHED,
    WRAPS,
    Measurement,
)
from planner.piece.settings import MultiplierChoice
from tests.helpers.measurements import corrected, measured, with_ratio

INCH, YARD = 2.54, 91.44
CHART = Chart.from_rows(["AB"])

# From each way to width, yarn used, and standard error


@pytest.mark.parametrize(
    ("m", "width", "used", "error"),
    [
        # √((0.5² + (100 ÷ 54)²) ÷ 12): the ruler's step, and the marks that fall somewhere within
        # a stitch
        (measured(MARKED), 27, 100, 0.55373),
        # 60 stitches at 24 to 10 cm; √((0.1² + 1.5²) ÷ 12)
        (measured(UNRAVELLED, gauge_stitches=24), 25, 90, 0.43397),
        # 8.3 g × 200 cm − 130 − 30; scale 0.1 ÷ √12 × 200 = 5.774, band 10 ÷ √3 % of 1660 = 95.84,
        # edges 15 % of 130 = 19.5
        (measured(WEIGHED), 442, 1500, 97.974),
        # the same with a weighed length: 1 % of 1660 = 16.6 in place of 95.84
        (measured(WEIGHED, metres_per_gram_from="weighed length"), 442, 1500, 26.252),
        # one stitch; 20 % of 1.7145
        (measured(WRAPS), 0.5, 1.7145, 0.3429),
        # 1260 − 168 − 30 − 7; √(2 × 0.5² ÷ 12 + 1.5²): read twice, and the tails
        (measured(SUPPLY), 297.5, 1055, 1.51383),
        # nothing left over, no tails, 20 cm of edges: √(2 × 0.5² ÷ 12 + 3²)
        (measured(SUPPLY, left_cm=None, tails_cm=0, edges_cm=20), 297.5, 1233, 3.00694),
        # a gauge over 4 in
        (measured(MARKED, gauge_over_cm=4 * INCH), 54 * 4 * INCH / 20, 100, 0.55373),
    ],
    ids=lambda value: value.way if isinstance(value, Measurement) else "",
)
def test_each_way_by_hand(m, width, used, error):
    e = evidence_in(m)
    assert (e.yarn, e.fabric) == ("A", "stockinette")
    assert e.width_cm == pytest.approx(width)
    assert e.used_cm == pytest.approx(used)
    assert e.error_cm == pytest.approx(error, rel=1e-4)
    assert e.stitches == (0 if m.way == WRAPS else m.stitches)
    assert ratio_of(m) == pytest.approx(used / width)


@pytest.mark.parametrize(
    ("way", "lines"),
    [
        (
            MARKED,
            [
                "54 × 10 cm ÷ 20 = 27 cm",
                "100 cm ÷ 27 cm = 3.70 (as read, between 3.67 and 3.74)",
            ],
        ),
        (UNRAVELLED, ["60 × 10 cm ÷ 20 = 30 cm", "90 cm ÷ 30 cm = 3.00"]),
        (
            WEIGHED,
            [
                "8.3 g × 2 m/g = 16.6 m",
                "1660 cm − 30 cm tails − 130 cm cast-on and bind-off = 1500 cm",
                "1500 cm ÷ 442 cm = 3.39 (as read, between 3.0 and 3.8)",
            ],
        ),
        (
            WRAPS,
            [
                "17.1 cm ÷ 10 wraps = 1.71 cm",
                "1 × 10 cm ÷ 20 = 0.5 cm",
                "= 3.43 (as read, between 2.3 and 4.6)",
            ],
        ),
        (
            SUPPLY,
            [
                "1260 cm wound − 168 cm left = 1092 cm",
                "1092 cm − 30 cm tails − 7 cm carries = 1055 cm",
                "595 × 10 cm ÷ 20 = 297.5 cm",
                "1055 cm ÷ 297.5 cm = 3.55",
            ],
        ),
    ],
)
def test_the_sum_can_be_followed_on_paper(way, lines):
    text = "\n".join(arithmetic(measured(way)))
    assert [line for line in lines if line not in text] == [], text


def test_every_good_example_raises_no_question():
    for way in WAYS:
        assert judge(measured(way)) == [], way


# Figures from outside, taken as measurements


def length_for(m, stitches):
    """Yarn in so many stitches of the same fabric, cm, by the multiplier of this measurement
    alone."""
    return ratio_of(m) * stitches * m.stitch_cm


@pytest.mark.parametrize("gauge", [18, 20, 22])
def test_stitches_from_a_yard(gauge):
    """45 stitches from one yard, 25,200 stitches: 560 yd (published,
    knitnmore.blogspot.com/2009/06), whatever the gauge."""
    m = measured(MARKED, stitches=45, length_cm=YARD, gauge_stitches=gauge)
    assert length_for(m, 25_200) / YARD == pytest.approx(560)
    assert judge(m) == []


def test_needle_wraps():
    """10 wraps = 6.75 in, 1,545 stitches: 1,042.9 in = 28.97 yd (published,
    destiknitions.blogspot.com/2014/09)."""
    m = measured(WRAPS, length_cm=6.75 * INCH, gauge_stitches=5, gauge_over_cm=INCH)
    assert length_for(m, 1545) / INCH == pytest.approx(1042.9, abs=0.05)
    assert length_for(m, 1545) / YARD == pytest.approx(28.97, abs=0.005)


def test_needle_wraps_are_a_guess():
    """±20 %, and no stitches of evidence (judgement)."""
    e = evidence_in(measured(WRAPS))
    assert e.error_cm / e.used_cm == pytest.approx(0.20)
    assert e.stitches == 0
    by_wraps, by_yarn = (
        Calibration([evidence_in(measured(way))], ["A"]).multiplier("A", "stockinette")
        for way in (WRAPS, MARKED)
    )
    assert 0.3 < by_wraps.spread < 0.45  # before any measurement it is 0.45
    assert by_yarn.spread < by_wraps.spread - 0.1


def test_garter_rows():
    """18 rows × 120 stitches at 50 stitches per metre: 43.2 m (published, practitioner page;
    garter)."""
    m = measured(MARKED, stitches=50, length_cm=100, fabric="garter", gauge_stitches=18)
    assert length_for(m, 18 * 120) == pytest.approx(4320)
    assert evidence_in(m).fabric == "garter"


@pytest.mark.parametrize("metres_per_gram", [1.7, 2, 2.4])
def test_weight_of_a_piece_from_a_swatch(metres_per_gram):
    """Swatch of 10,000 stitches = 70 g; 130,800 stitches: 915.6 g (published,
    getknitting.com/ak_yarnquantity.aspx)."""
    m = measured(
        WEIGHED, stitches=10_000, grams=70, metres_per_gram=metres_per_gram, edges_cm=0, tails_cm=0
    )
    assert length_for(m, 130_800) / (100 * metres_per_gram) == pytest.approx(915.6)


@pytest.mark.parametrize("rows_per_in", [3, 4, 5, 6])
@pytest.mark.parametrize("per_in", [4, 5])
def test_a_doubtful_swatch_is_queried(rows_per_in, per_in):
    """36 in² swatch, 4 g, 87 yd per 50 g: under 12 in per in² (published example, made-up
    figures)."""
    m = measured(
        WEIGHED,
        stitches=36 * rows_per_in * per_in,
        grams=4,
        metres_per_gram=87 * YARD / 100 / 50,
        edges_cm=0,
        tails_cm=0,
        gauge_stitches=per_in,
        gauge_over_cm=INCH,
    )
    assert ratio_of(m) * rows_per_in == pytest.approx(6.96)
    assert "outside 2.5 to 5.5" in judge(m)[0]


def test_an_impossible_swatch_is_refused():
    """24 in² swatch, 1 g, 100 yd per 50 g, 6 × 7 per in: multiplier 0.43 (published example,
    made-up figures)."""
    m = measured(
        WEIGHED,
        stitches=24 * 6 * 7,
        grams=1,
        metres_per_gram=100 * YARD / 100 / 50,
        edges_cm=0,
        tails_cm=0,
        gauge_stitches=6,
        gauge_over_cm=INCH,
    )
    assert ratio_of(m) == pytest.approx(0.43, abs=0.005)
    with pytest.raises(
        PlanError, match=r"0\.43: yarn cannot be shorter than the row it makes.*Check"
    ):
        judge(m)


def test_a_crochet_figure_is_queried():
    """Crochet figures seen in knitting tables, 9 and more (published, practitioner pages)."""
    for ratio in (9, 11, 14):
        assert any("crochet" in question for question in judge(with_ratio(ratio))), ratio


def swatch_of_400(**other):
    """400 stitches weighing 4.4 g, of a yarn whose metres per gram are known from a weighed
    length."""
    given = {"stitches": 400, "grams": 4.4, "metres_per_gram": 1.7, "edges_cm": 0, "tails_cm": 0}
    return measured(WEIGHED, **given | {"metres_per_gram_from": "weighed length"} | other)


@pytest.mark.parametrize(("step", "most", "error"), [(1, 0.11, 0.066), (0.1, 0.011, 0.0066)])
def test_scale_step(step, most, error):
    """Scale step 1 g on a 400-stitch swatch of 4.4 g: at most ±11 %, standard error 6.6 %; 0.1
    g: 0.66 % (computed)."""
    m = swatch_of_400(grams_step=step)
    used = evidence_in(m).used_cm
    for off in (-step / 2, step / 2):
        assert abs(evidence_in(replace(m, grams=4.4 + off)).used_cm / used - 1) == pytest.approx(
            most, rel=0.05
        )
    of_the_scale = math.sqrt(
        (evidence_in(m).error_cm / used) ** 2 - 0.01**2
    )  # the weighed length itself is good to 1 %
    assert of_the_scale == pytest.approx(error, rel=0.01)


def test_a_coarse_scale_is_said():
    assert judge(swatch_of_400(grams_step=1)) == [
        "A scale with steps of 1 g may be out by 11 % of 4.4 g. Weigh several swatches together."
    ]
    assert judge(swatch_of_400(grams_step=0.1)) == []
    assert judge(swatch_of_400(grams=44, stitches=4000)) == []  # ten of them on the scale


def test_label_error():
    """A label error of ±10 % is ordinary (published, tracykm.blogspot.com/2008/01): evenly
    within it, so ÷ √3; a measured length that was weighed is far better."""
    fine = {"grams_step": 0.001, "edges_cm": 0}
    by_label, by_length = (
        evidence_in(measured(WEIGHED, metres_per_gram_from=source, **fine))
        for source in ("label", "weighed length")
    )
    yarn = 8.3 * 200
    assert by_label.error_cm * math.sqrt(3) / yarn == pytest.approx(0.10, rel=1e-3)
    assert pytest.approx(0.10 / math.sqrt(3)) == LABEL_ERROR
    assert by_length.error_cm / yarn == pytest.approx(0.01, rel=1e-3)
    assert by_label.used_cm == by_length.used_cm


def test_what_weighings_by_one_band_share():
    """The error of the metres in a gram, 10 ÷ √3 % or 1 % of 1660 cm: of the yarn and the figure.
    What the scale and the edges add is each one's own (by hand above: 5.774 and 19.5 cm)."""
    by_label = evidence_in(measured(WEIGHED))
    by_length = evidence_in(measured(WEIGHED, metres_per_gram_from="weighed length"))
    assert by_label.shared_cm == pytest.approx(95.84, abs=0.005)
    assert by_length.shared_cm == pytest.approx(16.6)
    assert by_label.band == ("A", "label", 2)
    assert by_length.band == ("A", "weighed length", 2)
    for found in (by_label, by_length):
        assert found.own_error_cm == pytest.approx(math.hypot(5.774, 19.5), rel=1e-4)


@pytest.mark.parametrize("way", [way for way in WAYS if way != WEIGHED])
def test_other_ways_share_nothing(way):
    e = evidence_in(measured(way))
    assert (e.shared_cm, e.band, e.own_error_cm) == (0, None, e.error_cm)


# Questions


@pytest.mark.parametrize(
    ("m", "words"),
    [
        (with_ratio(2.4), ["2.40 is outside 2.5 to 5.5", "stretched"]),
        (with_ratio(5.6), ["5.60 is outside 2.5 to 5.5", "cast-on left out", "crochet"]),
        # one yard typed as 36 cm; 48 stitches are 24 cm wide: 91.44 ÷ 24 = 3.81
        (
            measured(stitches=48, length_cm=36),
            ["1.50 is outside", "measured in inches? Then it is 3.81"],
        ),
        # a gauge of 20 stitches over 4 in typed as over 4 cm; 50 stitches are 25.4 cm wide: 91.44
        # ÷ 25.4 = 3.60
        (
            measured(stitches=50, length_cm=YARD, gauge_over_cm=4),
            ["9.14 is outside", "over inches? Then it is 3.60"],
        ),
        (
            measured(state="blocked"),
            ["measured blocked, its gauge as knitted", "Count the gauge in the same state"],
        ),
        (measured(gauge_state="blocked"), ["measured as knitted, its gauge blocked"]),
        (
            measured(WEIGHED, grams_step=1),
            ["steps of 1 g may be out by 6 % of 8.3 g", "several"],
        ),  # 0.5 ÷ 8.3
    ],
)
def test_one_question(m, words):
    questions = judge(m)
    assert len(questions) == 1, questions
    assert [word for word in words if word not in questions[0]] == [], questions[0]


def test_each_doubt_is_a_question_of_its_own():
    assert len(judge(with_ratio(2.2, state="blocked"))) == 2


def test_few_stitches_are_remarked_on_but_count():
    few, enough = (measured(stitches=n, length_cm=1.85 * n) for n in (19, 20))
    assert judge(few) == []
    assert remarks(few) == [
        "19 stitches are weak evidence and count for little; 20 or more tell much more."
    ]
    assert remarks(enough) == []


BY_ONE_BAND = "Weighings by one band share its error: weigh a measured length to do better."


@pytest.mark.parametrize(
    ("new", "remarked"),
    [
        ({}, True),
        ({"stitches": 400, "grams": 4, "fabric": "garter"}, True),
        ({"metres_per_gram": 2.1}, False),  # another band
        ({"yarn": "B"}, False),
        ({"metres_per_gram_from": "weighed length"}, False),
        ({"corrects": 1}, False),  # it takes the place of the other
        ({"number": 1}, False),  # it is the other
    ],
)
def test_the_second_weighing_by_one_band_is_remarked_on(new, remarked):
    first = measured(WEIGHED)
    second = measured(WEIGHED, **{"number": 2} | new)
    assert remarks(second, [first]) == [BY_ONE_BAND] * remarked
    assert remarks(second, [measured(MARKED), replace(first, use="no")]) == []
    assert remarks(second) == []


def test_the_third_weighing_is_remarked_on_once():
    log = [measured(WEIGHED, number=number) for number in (1, 2)]
    assert remarks(measured(WEIGHED, number=3), log) == [BY_ONE_BAND]
    assert remarks(measured(WEIGHED, number=3, stitches=19), log)[1:] == [BY_ONE_BAND]


def test_the_same_line_twice_is_known():
    log = [with_ratio(3.6), with_ratio(3.7, number=2)]
    assert same_as(with_ratio(3.7, number=3), log) == log[1]
    assert same_as(with_ratio(3.8, number=3), log) is None
    assert same_as(with_ratio(3.7, number=3, corrects=2), log) is None


@pytest.mark.parametrize("ratio", [2.5, 2.51, 3, 3.7, 4.3, 5.49, 5.5])
def test_within_reason_is_not_queried(ratio):
    assert judge(measured(length_cm=27 * ratio)) == []


@pytest.mark.parametrize("ratio", [0.2, 0.5, 1])
def test_at_or_below_one_is_refused(ratio):
    with pytest.raises(PlanError, match="yarn cannot be shorter than the row it makes"):
        judge(with_ratio(ratio))


def test_just_above_one_is_a_question():
    assert len(judge(with_ratio(1.01))) == 1


def test_refused_and_inches():
    """A short length in inches typed as cm comes out impossible: 26.9 cm over 27 cm is 2.53 if
    it was inches."""
    with pytest.raises(PlanError, match=r"measured in inches\? Then it is 2\.53"):
        judge(with_ratio(26.9 / 27))
    with pytest.raises(PlanError) as caught:
        judge(with_ratio(0.5))  # 1.27 would be no better
    assert "inches" not in str(caught.value)


def test_twenty_stitches_are_enough():
    assert judge(measured(stitches=20, length_cm=37)) == []
    assert judge(measured(WRAPS)) == []  # has no stitches at all


# Against the rest of the log

REST = [with_ratio(3.4, number=n, stitches=54) for n in (1, 2, 3, 4, 5, 6)]


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (3.3, ()),
        (3.5, ()),
        (4.8, ("far above", "between 3.", "cast-on left out", "double strand")),
        (2.6, ("far below", "between 3.", "stretched gauge", "another yarn")),
    ],
)
def test_far_from_the_rest(ratio, words):
    questions = judge(with_ratio(ratio, number=7), REST)
    assert len(questions) == bool(words)
    assert [word for word in words if word not in questions[0]] == []


@pytest.mark.parametrize("side", [-1, 1])
def test_four_standard_errors(side):
    """Just under four is no question, just over is; the standard error has the multiplier's own
    spread, the noise of these stitches at the likely size (4 % of a metre and so on, growing as
    the root; 2 % of the whole), and the instrument's."""
    learned = Calibration(evidence_of(REST), ["A"])
    expected, yarn = learned.multiplier("A", "stockinette"), 3.7 * 27
    error = evidence_in(with_ratio(3.4)).error_cm
    spread = math.sqrt(
        (expected.spread * 27) ** 2 + learned.noise**2 * 100 * yarn + (0.02 * yarn) ** 2 + error**2
    )
    for standard_errors, asked in ((3.9, 0), (4.1, 1)):
        ratio = expected.value + side * standard_errors * spread / 27
        assert len(judge(with_ratio(ratio, number=7), REST)) == asked


def test_another_yarn_is_judged_by_the_same_hand_but_less_strictly():
    low = with_ratio(2.75, number=7)
    assert len(judge(low, REST)) == 1
    assert judge(replace(low, yarn="B"), REST) == []


def swatch(ratio, number, metres_per_gram=2):
    """A swatch of 442 cm of stitches that gives this multiplier by the figure of a band."""
    grams = (ratio * 442 + 160) / 100 / metres_per_gram
    return measured(WEIGHED, number=number, grams=grams, metres_per_gram=metres_per_gram)


def test_a_swatch_is_judged_by_what_its_band_read_before():
    """Marked lengths say 3.4, two swatches by a band say 3.9: the band is too high. That a third
    swatch by it says 3.3 is odd; by another band it is not."""
    log = [*REST, swatch(3.9, 7), swatch(3.9, 8)]
    (question,) = judge(swatch(3.3, 9), log)
    assert (
        "far below what your other measurements lead one to expect, which is between 3.6"
        in question
    )
    assert judge(swatch(3.9, 9), log) == []
    assert judge(swatch(3.3, 9, metres_per_gram=2.1), log) == []


def test_first_of_all_is_not_judged_by_the_rest():
    assert judge(with_ratio(2.6), []) == []


def test_what_is_not_used_does_not_judge():
    assert judge(with_ratio(4.8, number=7), [replace(m, use="no") for m in REST]) == []


def test_a_measurement_is_not_judged_by_itself_nor_by_what_it_corrects():
    log = [measured(UNRAVELLED, stitches=2000, length_cm=2.6 * 1000)]
    assert judge(with_ratio(3.7, number=2), log) != []
    assert judge(with_ratio(3.7, number=2, corrects=1), log) == []
    assert judge(log[0], log) == []


def test_a_line_that_was_corrected_stays_so_when_its_correction_is_corrected():
    """1 was mistyped, 2 takes its place, 3 that of 2: 1 is out of force all along and must not
    judge 3."""
    log = [
        measured(UNRAVELLED, stitches=2000, length_cm=2.6 * 1000),
        with_ratio(3.6, number=2, corrects=1),
    ]
    assert judge(with_ratio(3.7, number=3, corrects=2), log) == []


# Lines that do not count


def test_a_correction_takes_the_place_of_the_old_line():
    """By eye: 56 stitches are 28 cm wide."""
    old = measured(MARKED)
    new = corrected(old, 2, stitches=56)
    found = evidence_of([old, new])
    assert found == [Evidence("A", "stockinette", 28, 100, evidence_in(new).error_cm, 56)]


def test_a_line_left_out_is_no_evidence():
    believed, left_out = measured(number=1), measured(number=2, use="no")
    assert evidence_of([believed, left_out]) == [evidence_in(believed)]
    back = corrected(left_out, 3, use="yes")
    found = evidence_of([believed, left_out, back])
    assert found == [evidence_in(believed), evidence_in(back)]
    withdrawn = corrected(believed, 4, use="no")
    assert evidence_of([believed, withdrawn]) == []


# Of a whole piece


@pytest.mark.parametrize(
    ("choice", "value", "basis"),
    [
        (MultiplierChoice("estimate"), 3.7, "an estimate before any swatch"),
        (MultiplierChoice("own", 3.9), 3.9, "your own figure"),
        (MultiplierChoice("rule of three"), 3, "the plain rule of three, without a margin"),
    ],
)
def test_measurements_wait_until_they_are_chosen(choice, value, basis):
    piece = Project("piece", CHART, multiplier=choice, measurements=tuple(REST))
    found = multipliers_of(piece)
    assert list(found) == ["A", "B"]
    for multiplier in found.values():
        assert multiplier.value == pytest.approx(value)
        assert multiplier.basis == basis


def test_measurements_of_a_piece():
    """Six of A in stockinette, which B's multiplier and that of garter learn from, but less."""
    piece = Project("piece", CHART, multiplier=MultiplierChoice("measured"), measurements=(*REST,))
    found = multipliers_of(piece)
    assert found["A"].basis == "from 6 measurements of A in stockinette (324 stitches)"
    assert found["B"].basis == "from 6 of your other knitting"
    assert abs(found["A"].value - 3.4) < abs(found["B"].value - 3.4) < 0.3
    garter = replace(piece, how=Construction(fabric="garter"))
    assert multipliers_of(garter)["A"].basis == "from 6 of your other knitting"
    # They may be looked at before the plan goes by them.
    waiting = replace(piece, multiplier=MultiplierChoice("estimate"))
    looked_at = calibration_of(waiting).multiplier("A", "stockinette")
    assert looked_at.value == found["A"].value


# What leaves nothing for the stitches


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (measured(SUPPLY, left_cm=1260), ["Measurement 1", "nothing is left", "tails"]),
        # 1260 − 1223 = 37, which is all tails and carries
        (measured(SUPPLY, left_cm=1223), ["nothing is left for the stitches"]),
        (measured(WEIGHED, edges_cm=2000), ["nothing is left", "edges", "weighed"]),
    ],
)
def test_nothing_left_for_the_stitches(line, words):
    with pytest.raises(PlanError) as caught:
        evidence_in(line)
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message
