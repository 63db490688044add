"""What a field is called: its unit stands behind it, its help opens on demand; and sliders."""

import html
from pathlib import Path

import ipywidgets as widgets
import pytest
from traitlets import TraitError

from planner.workbook import Form, labelled, labels
from planner.workbook.colour_box import ColourBox
from planner.workbook.fields import length, number, one_of, text, unit_changes
from planner.workbook.labels import HELP, UNIT_CLASSES, label_of, put_label, unit_of
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


def test_a_box_for_a_colour_takes_nothing_else():
    box = ColourBox(value="navy")
    assert box.value == "#000080"
    with pytest.raises(TraitError, match="is no colour"):
        box.value = "red; --x: y"
    assert box.value == "#000080"


# Names and codes of CSS Color 4, table of named colours (from memory).
@pytest.mark.parametrize(
    ("typed", "colour"),
    [
        ("crimson", "#dc143c"),
        ("Sea green", "#2e8b57"),
        (" light sea green ", "#20b2aa"),
        ("#1F3A5F", "#1f3a5f"),
        ("1f3a5f", "#1f3a5f"),
        ("rgb(255 0 0)", "#ff0000"),
    ],
)
def test_a_colour_is_typed_by_its_code_or_its_name(typed, colour):
    box = ColourBox(said="as before")
    box.put(typed)
    assert (box.value, box.said) == (colour, "")


@pytest.mark.parametrize("typed", ["cherry red", "", "#12", "reddish", "x" * 500])
def test_what_is_no_colour_is_said_and_changes_nothing(typed):
    box = ColourBox(value="#123456")
    box.put(typed)
    assert box.value == "#123456"
    assert "is no colour that is known here. Type a name such as" in box.said
    assert len(box.said) < 250
    box.value = "#654321"
    assert box.said == ""


def test_a_name_suggests_a_colour_until_another_is_said():
    box, usual = ColourBox(value="#b8b8b8"), "#b8b8b8"
    seen = []
    for name in ("c", "cherry", "cherry red", "cherry redwood"):
        box.suggest(name, usual)
        seen.append((box.value, bool(box.said)))
    assert seen == [(usual, False), (usual, False), ("#ff0000", True), (usual, False)]
    box.put("#900020")
    box.suggest("navy", usual)
    assert (box.value, box.said) == ("#900020", "")


def test_fields_stand_in_columns_and_what_is_no_field_does_not():
    assert "plan-fields" in Form([text("name"), widgets.HTML("words")])._dom_classes
    assert "plan-fields" not in Form([widgets.HTML("words")])._dom_classes


def test_help_is_opened_behind_its_field():
    form = Form([number("each tail (cm)"), number("each <b> tail (cm)")])
    helped, plain = form.children
    assert "plan-helped" in helped._dom_classes
    sentence = helped.children[1].value
    assert html.escape(HELP["each tail"]) in sentence
    assert 'aria-label="What is meant by: each tail"' in sentence
    assert isinstance(plain, widgets.FloatText)


@pytest.mark.parametrize("label", HELP)
def test_help_is_for_a_field_that_there_is(label):
    files = Path(labels.__file__).parent.glob("*.py")
    sources = [path.read_text("utf-8") for path in files if path.name != "labels.py"]
    assert any(f'"{label}' in source for source in sources)
