"""What is found about the gauge before cast-on, against figures from outside."""

import pytest

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.choices.check import rows_for


def findings(gauge, **yarn):
    """What is found about the gauge of a small plain piece, as one text."""
    piece = Project("piece", Chart.from_rows(["AAA"] * 3), {"A": Yarn("A", **yarn)}, gauge)
    found = make_plan(piece).findings
    return " / ".join(found[found.about == "gauge"].finding)


def test_rows_for_a_width():
    """50 stitches × 100 rows measured three times over: 3.09 stitches and 3.91 rows to the cm
    (published, practitioner page)."""
    widths, heights = "50 over 15.7, 50 over 16.1, 50 over 16.8", "100 over 25.7, 100 over 25.9"
    gauge = Gauge(widths, heights + ", 100 over 25.2")
    assert rows_for(100, gauge) == 391


def test_aspect_on_the_chart():
    """24 stitches × 30 rows to 4 in: aspect 0.8, a cell 20 wide is 16 high (published,
    cathysoddstuff.blogspot.com/2019)."""
    piece = Project("piece", Chart.from_rows(["AAA"] * 3), gauge=Gauge(24, 30, 4, "in"))
    found = make_plan(piece).findings.set_index("about")
    assert "0.80 times as high as a stitch is wide" in found.finding["aspect"]
    assert float(piece.gauge.aspect) * 20 == 16


# Craft Yarn Council, Standard Yarn Weight System: stitches in 4 in of stockinette (second-hand,
# three agreeing copies).
YARN_WEIGHTS = {
    0: (33, 40),
    1: (27, 32),
    2: (23, 26),
    3: (21, 24),
    4: (16, 20),
    5: (12, 15),
    6: (7, 11),
}


@pytest.mark.parametrize("weight", YARN_WEIGHTS)
def test_every_weight_of_yarn_is_a_likely_gauge(weight):
    for stitches in YARN_WEIGHTS[weight]:
        assert findings(Gauge(stitches, stitches * 1.35, 4, "in")) == ""


@pytest.mark.parametrize("gauge", [Gauge(22, 30, 1), Gauge(22, 30, 100), Gauge(22, 30, 1, "in")])
def test_a_gauge_over_the_wrong_length_is_queried(gauge):
    """22 stitches meant over 10 cm, but typed over one cm, a metre or an inch."""
    assert "unusual for knitting" in findings(gauge)


def test_centimetres_and_inches_mixed_up():
    """22 stitches meant over 10 cm but typed over 10 in would do for thick yarn; the band of
    this one says no."""
    assert findings(Gauge(22, 30, 10, "in")) == ""
    assert "8.7 stitches in 10 cm, its band says 22" in findings(
        Gauge(22, 30, 10, "in"), label_stitches_10cm=22
    )
    assert findings(Gauge(22, 30, 4, "in"), label_stitches_10cm=22) == ""


@pytest.mark.parametrize(
    ("stitches", "queried"),
    [(14, True), (15, False), (21, False), (27, False), (29, True)],  # a third of 21 is 7
)
def test_gauge_more_than_a_third_from_the_band(stitches, queried):
    found = findings(Gauge(stitches, stitches * 1.4), label_stitches_10cm=21)
    assert ("its band says 21" in found) == queried
    assert findings(Gauge(stitches, stitches * 1.4)) == ""  # nothing to compare with


def test_stitches_and_rows_exchanged():
    assert "far apart" in findings(Gauge(30, 22))
    assert findings(Gauge(22, 30)) == ""


def test_knitters_differ():
    """Stitch gauges of several knitters, same yarn and needles, differ by 17 to 29 % (published
    trial, 2016): within the third that is not yet queried against the band."""
    for share in (0.17, 0.29):
        assert findings(Gauge(20 * (1 + share), 28), label_stitches_10cm=20) == ""
        assert findings(Gauge(20 * (1 - share), 28 * (1 - share)), label_stitches_10cm=20) == ""
