"""Driving the measuring form: what is typed for each way, pressed and asked."""

from planner.folder import read_text
from planner.piece import MARKED, SUPPLY, UNRAVELLED, WEIGHED, WRAPS
from planner.workbook import Fold
from planner.workbook.measuring import CHECKED
from tests.helpers.forms import box, boxes

LOG = "Log this measurement"


def opened(form):
    """The form with its folds open."""
    for fold in boxes(form, Fold):
        fold.heading.is_open = True
    return form


def log(form):
    """Press the button that logs; what is asked then has been checked."""
    box(form, LOG).click()
    checked = box(form, CHECKED)
    if checked.layout.display != "none":
        checked.click()


def fill(form, way, **typed):
    """Choose a way of measuring and type values into the fields whose descriptions begin so."""
    opened(form)
    if "corrects" in typed:
        box(form, NAMES["corrects"]).value = typed.pop("corrects")
    box(form, "way of measuring").value = way
    for name, value in typed.items():
        box(form, NAMES.get(name, name)).value = value
    return form


NAMES = {
    "length": "length of yarn",
    "step": "read to the nearest",
    "grams": "weight (g)",
    "scale": "the scale shows",
    "per_gram": "metres in a gram",
    "per_gram_from": "metres in a gram are from",
    "edge": "cast-on and bind-off",
    "gauge": "gauge of the same fabric",
    "left": "left over",
    "state": "measured",
    "gauge_state": "its gauge was counted",
    "needle": "needle",
    "units": "lengths in",
    "corrects": "this is",
}


def lines(desk):
    return read_text(desk.project.folder / "measurements.csv").splitlines()


# What is typed for each way.
TYPED = {
    MARKED: {"yarn": "K", "length": 100, "step": 0.5, "stitches": 55},
    UNRAVELLED: {"yarn": "R", "stitches": 60, "length": 105},
    WEIGHED: {"yarn": "N", "grams": 8.3, "scale": 0.1, "stitches": 884, "edge": 26, "tails": 30},
    WRAPS: {"yarn": "T", "wraps": 10, "length": 17},
    SUPPLY: {"strand": "W6", "wound": 120, "left": 13.5, "step": 0.5},
}
