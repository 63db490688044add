"""Which yarns of several pieces are one, and what has to be asked before they are."""

import pytest

from planner import Yarn
from planner.buying.same_yarns import APART, LETTER, NAME, ONE_YARN, TOGETHER, Use, yarns_of_set


def use(piece, letter, name="", **said):
    return Use(piece.lower(), piece, letter, Yarn(letter, name, **said))


def found(*uses, **answers):
    """The yarns as (title, pieces) and the questions; answers by name: rust=("apart", "")."""
    given = {(NAME, name): answer for name, answer in answers.items()}
    return yarns_of_set(uses, given)


def in_short(same):
    return [(one.title, [each.folder for each in one.uses]) for one in same]


def test_one_name_is_one_yarn_whatever_its_letter():
    same, questions = found(
        use("Back", "R", "Rust", metres_per_ball=100, balls_in_hand=2, dye_lot="041"),
        use("Front", "A", " rust ", grams_per_ball=50),
    )
    assert questions == []
    (one,) = same
    assert in_short(same) == [("Rust", ["back", "front"])]
    # What one piece does not say the other one does; what is in hand is in hand once.
    assert (one.yarn.metres_per_ball, one.yarn.grams_per_ball) == (100, 50)
    assert one.yarn.lots == {"041": 2}
    assert one.yarn.letter == "R/A"


def test_a_band_in_yards_is_the_same_band():
    """100 m is 109.36 yd; a band says 109 yd, which are 99.67 m (exact: 0.9144 m to a yard)."""
    same, questions = found(
        use("Back", "R", "Rust", metres_per_ball=100),
        use("Front", "R", "Rust", metres_per_ball=109 * 0.9144),
    )
    assert questions == []
    # The shorter of the two is on the safe side.
    assert same[0].yarn.metres_per_ball == pytest.approx(99.67, abs=0.01)


CONTRADICTIONS = {
    "metres": (
        {"metres_per_ball": 100},
        {"metres_per_ball": 85},
        "Rust: 100 m a ball in Back, 85 m a ball in Front.",
        APART,
    ),
    "grams": (
        {"grams_per_ball": 50},
        {"grams_per_ball": 100},
        "Rust: 50 g a ball in Back, 100 g a ball in Front.",
        APART,
    ),
    "balls": (
        {"balls_in_hand": 2},
        {"balls_in_hand": 3},
        "Rust: 2 of no lot in hand in Back, 3 of no lot in hand in Front.",
        TOGETHER,
    ),
    "lots": (
        {"balls_in_hand": 2, "dye_lot": "041"},
        {"balls_in_hand": 2, "dye_lot": "042"},
        "Rust: 2 of lot 041 in hand in Back, 2 of lot 042 in hand in Front.",
        TOGETHER,
    ),
    "part balls": (
        {"grams_per_ball": 50, "part_balls_g": (20.0,)},
        {"grams_per_ball": 50, "balls_in_hand": 1},
        "in hand in Back, 1 of no lot in hand in Front.",
        TOGETHER,
    ),
}


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_what_contradicts_is_asked_and_not_counted(name):
    back, front, words, other = CONTRADICTIONS[name]
    uses = (use("Back", "R", "Rust", **back), use("Front", "R", "Rust", **front))
    same, (question,) = found(*uses)
    assert question.key == (NAME, "rust")
    assert question.blocks
    assert words in question.words
    assert question.options == ((ONE_YARN, "back"), (ONE_YARN, "front"), (other, ""))
    assert [one.is_open for one in same] == [True]


@pytest.mark.parametrize("name", CONTRADICTIONS)
@pytest.mark.parametrize("piece", ["back", "front"])
def test_one_yarn_as_one_piece_has_it(name, piece):
    back, front, _, _ = CONTRADICTIONS[name]
    uses = (use("Back", "R", "Rust", **back), use("Front", "R", "Rust", **front))
    same, questions = found(*uses, rust=(ONE_YARN, piece))
    assert questions == []
    (one,) = same
    assert not one.is_open
    said = {"back": back, "front": front}[piece]
    assert {field: getattr(one.yarn, field) for field in said} == said


def test_yarns_that_differ_stay_apart():
    uses = [
        use("Back", "R", "Rust", metres_per_ball=100, balls_in_hand=1),
        use("Front", "R", "Rust", metres_per_ball=85),
        use("Sleeve", "R", "Rust", metres_per_ball=100, balls_in_hand=1),
    ]
    same, questions = found(*uses, rust=(APART, ""))
    # Of one name they were told apart already: nothing is asked about the letter.
    assert questions == []
    assert in_short(same) == [("Rust", ["back", "sleeve"]), ("Rust", ["front"])]
    assert same[0].yarn.balls_in_hand == 1


def test_all_balls_together():
    uses = [
        use("Back", "R", "Rust", balls_in_hand=2, dye_lot="041"),
        use("Front", "R", "Rust", balls_in_hand=3, dye_lot="1 of 041, 2 of 042"),
        use("Sleeve", "R", "Rust", balls_in_hand=0.5),
    ]
    same, questions = found(*uses, rust=(TOGETHER, ""))
    assert questions == []
    assert same[0].yarn.lots == {"041": 3, "042": 2, "no lot named": 0.5}
    assert sum(same[0].yarn.balls) == 5.5


def test_an_answer_that_fits_no_longer_is_asked_again():
    uses = (
        use("Back", "R", "Rust", metres_per_ball=100),
        use("Front", "R", "Rust", metres_per_ball=85),
    )
    for stale in ((ONE_YARN, "sleeve"), (TOGETHER, ""), ("perhaps", "")):
        same, questions = found(*uses, rust=stale)
        assert len(questions) == 1
        assert same[0].is_open
    # Where nothing contradicts any more, an answer changes nothing.
    same, questions = found(uses[0], use("Front", "R", "Rust"), rust=(APART, ""))
    assert questions == []
    assert in_short(same) == [("Rust", ["back", "front"])]


def test_one_letter_for_two_yarns_is_asked_but_their_names_tell_them_apart():
    uses = (use("Back", "A", "Rust", balls_in_hand=1), use("Front", "A", "Sea"))
    same, (question,) = yarns_of_set(uses, {})
    assert question.key == (LETTER, "A")
    assert question.words == "The letter A is Rust in Back, Sea in Front."
    assert not question.blocks
    assert in_short(same) == [("Rust", ["back"]), ("Sea", ["front"])]
    assert not any(one.is_open for one in same)
    # Answered, it is asked no more.
    same, questions = yarns_of_set(uses, {(LETTER, "A"): (APART, "")})
    assert questions == []
    assert len(same) == 2
    same, questions = yarns_of_set(uses, {(LETTER, "A"): (ONE_YARN, "front")})
    assert questions == []
    assert in_short(same) == [("Sea", ["back", "front"])]
    # As the front has it, nothing is in hand.
    assert same[0].yarn.balls_in_hand == 0


def test_without_names_nothing_is_merged_nor_counted():
    uses = (use("Back", "A", balls_in_hand=1), use("Front", "A", balls_in_hand=1))
    same, (question,) = yarns_of_set(uses, {})
    assert question.words == "The letter A is no name in Back and Front."
    assert question.blocks
    assert [one.is_open for one in same] == [True, True]
    same, questions = yarns_of_set(uses, {(LETTER, "A"): (ONE_YARN, "back")})
    assert questions == []
    assert in_short(same) == [("A", ["back", "front"])]
    assert same[0].yarn.balls_in_hand == 1
    # One alone needs no name.
    same, questions = yarns_of_set(uses[:1], {})
    assert questions == []
    assert not same[0].is_open


def test_two_letters_of_one_piece_under_one_name_are_asked_about():
    uses = (use("Back", "W", "Cream"), use("Back", "V", "Cream"), use("Front", "W", "Cream"))
    _, (question,) = yarns_of_set(uses, {})
    assert question.words == "Cream: Back has it under W and V."
    same, questions = found(*uses, cream=(APART, ""))
    assert questions == []
    assert in_short(same) == [("Cream", ["back", "front"]), ("Cream", ["back"])]
    same, questions = found(*uses, cream=(ONE_YARN, "back"))
    assert in_short(same) == [("Cream", ["back", "back", "front"])]


def test_order_is_that_of_first_use():
    same, _ = yarns_of_set(
        (use("Back", "B", "Sea"), use("Back", "A", "Rust"), use("Front", "C", "Moss")), {}
    )
    assert [one.title for one in same] == ["Sea", "Rust", "Moss"]
