"""What the balls of a plan feed, read off its supplies, and whether it can be shared out at all."""

from collections import defaultdict
from dataclasses import replace

from planner.piece import BALL
from planner.supplies import Feeding

LITTLE = 1e-6  # lengths are sums of floats


def fed_by(plan):
    """What is fed from balls that have a number: one `Feeding` a strand, or a piece of it.

    All that comes off the ball is counted: what is measured off later, and of a strand begun from
    its middle the half that is wound.
    """
    strand_cm = defaultdict(float)
    for held in plan.held:
        strand_cm[held.part.label] += held.part.wound_cm
    feedings = []
    for held in plan.held:
        part = held.part
        on_ball = [stage for stage in held.stages if stage.supply == BALL]
        # A ball makes room for the next, or for what is measured off it, unless both are joined in
        # one row.
        until = [*(stage.row for stage in held.stages[1:]), part.last_row + 1]
        for stage, done in zip(on_ball, until, strict=False):
            if stage.ball:
                is_joined = len(on_ball) > 1
                length_cm = stage.length_cm if is_joined else strand_cm[part.label]
                rows = (stage.row, max(stage.row, done - 1))
                feedings.append(Feeding(part.number, part.yarn, *rows, length_cm, stage.ball - 1))
    return feedings


def lying_in(feedings, row):
    """The balls, by yarn and number, that lie beside the work in a worked row, from 0."""
    return {(each.letter, each.ball) for each in feedings if each.first <= row <= each.last}


def is_beyond(feedings, balls, ends):
    """What these balls, by their lengths in cm, cannot do of this: in words, "" if they can."""
    for ball, length_cm in enumerate(balls):
        of_ball = [each for each in feedings if each.ball == ball]
        if sum(each.length_cm for each in of_ball) > length_cm + LITTLE:
            return f"ball {ball} is too short"
        for row in {each.first for each in of_ball}:
            if sum(each.first <= row <= each.last for each in of_ball) > ends:
                return f"ball {ball} feeds too many in row {row}"
    return ""


def can_be_fed(wishes, balls, ends):
    """Whether one yarn's balls can feed all these without a join: every way is tried.

    A way that fails for the first few is not followed up, for more to feed cannot help.
    """

    def place(done, rest):
        if not rest:
            return True
        wish, *others = rest
        for ball in range(len(balls)):
            fed = [*done, replace(wish, ball=ball)]
            if not is_beyond(fed, balls, ends) and place(fed, others):
                return True
        return False

    return place([], list(wishes))
