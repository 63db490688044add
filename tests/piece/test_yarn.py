"""A yarn: its weight by its band, against yarn counts, and its dye lots."""

import pytest

from planner import PlanError, Yarn

YARD, POUND_G = 91.44, 453.59237  # exact by definition


@pytest.mark.parametrize("tex", [30, 100, 245])
def test_yarn_counts(tex):
    """tex = 10⁵ ÷ metres in 100 g; cotton count 590.541 ÷ tex; yards in a pound 496,055 ÷ tex; 30
    tex is Ne 19.7 (published, ASTM D2260): each length weighs what its count says."""
    yarn = Yarn("A", metres_per_ball=1e5 / tex, grams_per_ball=100)
    assert yarn.grams(1000 * 100) == pytest.approx(tex)  # tex is grams in a kilometre
    assert yarn.grams(496_055 / tex * YARD) == pytest.approx(POUND_G, rel=1e-5)
    hank = 840 * YARD  # a cotton count is hanks of 840 yd in a pound
    assert yarn.grams(590.541 / tex * hank) == pytest.approx(POUND_G, rel=1e-5)


def test_cotton_count_of_30_tex():
    """30 tex = Ne 19.7 (published, ASTM D2260)."""
    yarn = Yarn("A", metres_per_ball=1e5 / 30, grams_per_ball=100)
    assert POUND_G / yarn.grams(840 * YARD) == pytest.approx(19.7, abs=0.05)


def test_weight_needs_metres_and_grams():
    assert Yarn("A", metres_per_ball=100).grams(100) is None
    assert Yarn("A", grams_per_ball=50).grams(100) is None
    assert Yarn("A", metres_per_ball=100, grams_per_ball=50).grams(250) == pytest.approx(1.25)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"metres_per_ball": 0}, ["Yarn A", "metres_per_ball", "0", "leave it empty"]),
        ({"grams_per_ball": -50}, ["grams_per_ball", "-50"]),
        ({"label_stitches_10cm": float("nan")}, ["label_stitches_10cm", "nan"]),
        ({"balls_in_hand": -1}, ["balls_in_hand", "-1", "0 or more"]),
        ({"surface": "fluffy"}, ["Yarn A", '"fluffy"', "smooth, hairy, slippery"]),
        ({"part_balls_g": (30, 0), "grams_per_ball": 50}, ["Yarn A", "weight of a part ball", "0"]),
        ({"part_balls_g": (30,)}, ["Yarn A", "grams_per_ball is missing"]),
    ],
)
def test_wrong_arguments(wrong, words):
    with pytest.raises(PlanError) as caught:
        Yarn("A", **wrong)
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


# Balls in hand


@pytest.mark.parametrize(
    ("yarn", "balls"),
    [
        (Yarn("A"), ()),
        (Yarn("A", balls_in_hand=2), (1, 1)),
        (Yarn("A", balls_in_hand=1.5), (1, 0.5)),
        (Yarn("A", balls_in_hand=0.3), (0.3,)),
        (Yarn("A", grams_per_ball=50, part_balls_g=(20, 30)), (0.4, 0.6)),
        (Yarn("A", balls_in_hand=1.5, grams_per_ball=50, part_balls_g=(20,)), (1, 0.5, 0.4)),
        # The halves of two lots are two half balls, not a whole one.
        (Yarn("A", balls_in_hand=3, dye_lot="1.5 of 114, 1.5 of 131"), (1, 1, 0.5, 0.5)),
        # A sum of floats, a little less than a whole ball.
        (Yarn("A", balls_in_hand=0.7 + 0.2 + 0.1), (1,)),
    ],
)
def test_balls_are_things(yarn, balls):
    """Whole balls first, then those begun, counted before weighed."""
    assert yarn.balls == pytest.approx(balls)


@pytest.mark.parametrize(
    ("feltable", "superwash", "spliced"),
    [(True, False, True), (True, True, False), (False, False, False), (False, True, False)],
)
def test_superwash_does_not_felt(feltable, superwash, spliced):
    assert Yarn("A", feltable=feltable, superwash=superwash).can_be_spliced is spliced


# Dye lots


@pytest.mark.parametrize(
    ("lot", "balls", "lots"),
    [
        ("", 2, {"": 2}),
        ("041", 1.5, {"041": 1.5}),
        ("2 of 114, 1 of 131", 3, {"114": 2, "131": 1}),
        ("1.5 of lot 114; 1 of lot 131", 2.5, {"114": 1.5, "131": 1}),
        ("lot of 9", 1, {"lot of 9": 1}),
    ],
)
def test_lots_of_a_yarn(lot, balls, lots):
    assert Yarn("A", dye_lot=lot, balls_in_hand=balls).lots == lots


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: Yarn("A", dye_lot="2 of 114, 1 of 131", balls_in_hand=4),
            ["Yarn A", "3 balls", "4"],
        ),
        (lambda: Yarn("A", dye_lot="1.2.3 of 114", balls_in_hand=4), ["Yarn A", "114", "1.2.3"]),
    ],
)
def test_lots_that_do_not_add_up(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)
