"""The screens from outside, in real JupyterLab: the result in view, nothing runs off, axe's rules.

axe-core is Deque's engine for the rules of WCAG 2; JupyterLab's own page is not looked at.
"""

import pytest

from tests.helpers.screens import (
    come_alive,
    comes_into_view,
    found_by_axe,
    make_dark,
    open_folds,
    shape_at,
)

# What the first screen of each notebook must show whole.
RESULTS = {
    "1-chart-and-gauge.ipynb": (".painting .plan-headline", ".painting canvas"),
    "2-swatch-and-calibrate.ipynb": (".plan-headline",),
    "3-yarn-plan.ipynb": (".plan-headline", "img", ".plan-table"),
    "4-row-by-row.ipynb": (".row-card",),
    "5-choices.ipynb": (".plan-headline", ".offers .paper"),
    "6-finish-and-hand-on.ipynb": (".plan-headline",),
}
# A laptop, a tablet held upright, and the laptop's page at 200 %.
LAPTOP, TABLET, ENLARGED = (1400, 900), (820, 1180), (700, 450)
SCREENS_HIGH = 5


@pytest.mark.parametrize("notebook", RESULTS)
def test_a_page_is_laid_out_and_can_be_used_by_everybody(lab, page, notebook):
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    come_alive(lab, page, notebook)
    wrong = []
    for width, height in (LAPTOP, TABLET, ENLARGED):
        shape = shape_at(page, width, height)
        wrong += _overflowing(shape, width)
        if (width, height) != ENLARGED and shape["tall"] > SCREENS_HIGH * height:
            wrong.append(f"{width} × {height}: {shape['tall'] / height:.1f} screens")
        if (width, height) == LAPTOP:
            hidden = [name for name in RESULTS[notebook] if not comes_into_view(page, name)]
            wrong += [f"not on the first screen: {name}" for name in hidden]
    open_folds(lab, page)
    for width, height in (TABLET, LAPTOP):
        wrong += _overflowing(shape_at(page, width, height), f"{width}, opened")
    wrong += [str(finding) for finding in found_by_axe(page)]
    make_dark(page)
    wrong += [f"dark: {finding}" for finding in found_by_axe(page, "color-contrast")]
    assert not wrong, "\n".join(wrong)


def _overflowing(shape, window):
    """What runs off at the side, or scrolls within the page."""
    wrong = [f"{window}: runs off sideways: {name}" for name in shape["beyond"][:5]]
    wrong += [f"{window}: scrolls within the page: {name}" for name in shape["scrolling"][:5]]
    wrong += [f"{window}: stands over what is beside it: {name}" for name in shape["over"][:5]]
    if shape["sideways"] > 0:
        wrong.append(f"{window}: the page is {shape['sideways']} px too wide")
    return wrong
