"""Multiplier: yarn in a row ÷ the row's width, an estimate with a spread, learnt from measurements.

multiplier    one multiplier with its spread, and where it comes from
calibration   what measurements say about a knitter's multipliers
evidence      what each way of measuring says, with its error
normal        the normal distribution
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.multiplier.calibration import (
        Calibrated,
        Calibration,
        Evidence,
        noise_variance,
    )
    from planner.multiplier.evidence import (
        LABEL_ERROR,
        STEP_TO_ERROR,
        WEIGHED_ERROR,
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
    from planner.multiplier.multiplier import (
        BEFORE_ANY_SWATCH,
        PRIOR_MEAN,
        PRIOR_SPREAD,
        RULE_OF_THREE,
        Multiplier,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
