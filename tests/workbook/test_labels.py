"""What a field is called: its unit stands behind it, its help opens on demand; and sliders."""

import ipywidgets as widgets
import pytest

from planner.workbook import Form, labelled
from planner.workbook.fields import length, number, one_of, text, unit_changes
from planner.workbook.labels import label_of, put_label, unit_of
from planner.workbook.panes import LOOKS
from planner.workbook.slider import FineSlider, Slider


@pytest.mark.parametrize(
    ("label", "name", "unit"),
    [
        ("each tail (cm)", "each tail", "cm"),
        ("crowded above (at once)", "crowded above", "at once"),
        ("spare (%)", "spare", "%"),
        # What is in brackets may be no unit, and there may be nothing before them.
        ("rows (0: as its shape asks)", "rows (0: as its shape asks)", ""),
        ("rows", "rows", ""),
        ("(cm)", "(cm)", ""),
    ],
)
def test_a_unit_stands_behind_its_box(label, name, unit):
    box = number(label)
    assert (box.description, unit_of(box), label_of(box)) == (name, unit, label)
    assert f"<b>{label}</b> 0" in Form([box]).words()


def test_a_unit_follows():
    box, unit = length("over", 10), one_of("lengths in", ("cm", "in"))
    unit_changes(unit, [box])
    unit.value = "in"
    assert label_of(box) == "over (in)"
    put_label(box, "over (stitches)")
    assert [name for name in box._dom_classes if "unit" in name] == ["plan-unit-stitches"]


def test_every_unit_is_written_by_the_stylesheet():
    from planner.workbook.labels import UNIT_CLASSES

    for unit, name in UNIT_CLASSES.items():
        assert f'.plan-unit-{name} {{--plan-unit: "{unit}"}}' in LOOKS


def test_a_slider_stays_between_its_ends():
    row = labelled(Slider, "row", max=9)
    row.value = 12
    assert row.value == 9
    row.max = 4
    assert row.value == 4
    zoom = FineSlider(description="zoom", min=1, max=8, value=0)
    assert zoom.value == 1
    assert "<b>row</b> 4" in Form([row]).words()


def test_fields_stand_in_columns_and_what_is_no_field_does_not():
    assert "plan-fields" in Form([text("name"), widgets.HTML("words")])._dom_classes
    assert "plan-fields" not in Form([widgets.HTML("words")])._dom_classes
