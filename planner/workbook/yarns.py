"""Notebook 1: the yarns of a piece, each with what its band says and what is in hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from planner.colour import named_in
from planner.errors import PlanError
from planner.folder import weights_in, weights_text
from planner.piece import SURFACES, Project, Yarn
from planner.plan import Plan
from planner.units import CM_PER, LONG_UNIT, check_number
from planner.workbook.asking import heard
from planner.workbook.colour_box import colour_typed
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    YARN_UNIT_IN_WORDS,
    button,
    colour,
    labelled,
    number,
    offer,
    one_of,
    text,
)
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.yarn_letters import check_letter, with_letter, without_yarn

FORMULA_SIGNS = ("=", "+", "-", "@")  # a spreadsheet takes a text that begins so for a formula
MOST_NAMED = 4  # in a heading
ABOUT_YARNS = (
    "The letter stands on the chart; the colour is only for looking at. What the band says is "
    "needed for balls and weights."
)
ANOTHER = "another yarn"
NOT_SAID = Yarn("").colour  # the colour of a new yarn, until it is said

IN_A_BALL = "{} in a ball (0: not known)"  # metres or yards, as the piece is shown

# The boxes of a yarn by the names of its fields; each form makes its own.
YARN_BOXES: dict[str, Callable[[], widgets.Widget]] = {
    "letter": lambda: text("its letter on the chart"),
    "name": lambda: text("name"),
    "metres_per_ball": lambda: number(IN_A_BALL.format("metres")),
    "grams_per_ball": lambda: number("grams in a ball (0: not known)"),
    "balls_in_hand": lambda: number("balls in hand"),
    "dye_lot": lambda: text("dye lot"),
    "feltable": lambda: labelled(widgets.Checkbox, "it felts, so it can be spliced"),
    "superwash": lambda: labelled(widgets.Checkbox, "superwash: it does not felt"),
    "may_be_cut": lambda: labelled(widgets.Checkbox, "it may be cut"),
    "surface": lambda: one_of("its surface", SURFACES),
    "part_balls_g": lambda: text("balls begun, each weighed (g)", placeholder="such as 34; 12"),
    # The last one: below it room is kept for what is said of a colour.
    "colour": lambda: colour("colour", NOT_SAID),
}
WEIGHTS = "part_balls_g"
UNKNOWN_AS_ZERO = ("metres_per_ball", "grams_per_ball")


def yarn_of(project: Project, chosen: str, typed: Mapping[str, Any]) -> Yarn:
    """The yarn that is meant by what was typed: the one chosen, changed, or another one.

    `typed` holds what was touched, by the names of a Yarn's fields.
    """
    # Blanks before and after are slips; a letter with one would be none.
    values: dict[str, Any] = {
        name: value.strip() if isinstance(value, str) else value for name, value in typed.items()
    }
    letter = values.setdefault("letter", chosen)
    if chosen == ANOTHER and letter in project.all_yarns:
        raise PlanError(
            f"There is a yarn {letter} already. Choose it above to change it, or take another "
            "letter."
        )
    for name in ("name", "dye_lot"):
        if values.get(name, "").startswith(FORMULA_SIGNS):
            raise PlanError(
                f'"{values[name]}" begins with {values[name][0]}, which a spreadsheet would take '
                "for a formula."
            )
    for name in UNKNOWN_AS_ZERO:
        if name in values:
            values[name] = values[name] or None
    if WEIGHTS in values:
        values[WEIGHTS] = weights_in(values[WEIGHTS], f"Yarn {letter}: the weight of a part ball")
    check_letter(letter, "its letter on the chart")
    return replace(project.all_yarns.get(letter, Yarn(letter)), **values)


def yarn_typed(project: Project, typed: Mapping[str, str]) -> Yarn:
    """One yarn more, of the letter, name and colour typed beside the chart.

    A colour that is left empty is the one that its name ends with, or the usual grey.
    """
    words = {name: str(typed.get(name, "")).strip() for name in ("letter", "name", "colour")}
    named = named_in(words["name"]) or NOT_SAID
    colour = colour_typed(words["colour"]) if words["colour"] else named
    return yarn_of(project, ANOTHER, words | {"colour": colour})


def put_down_yarn(desk: Desk, chosen: str, typed: Mapping[str, Any]) -> Yarn:
    """Keep a yarn as it was typed, under another letter where one was; returns the yarn."""
    letter = typed.get("letter", "").strip()
    if chosen == ANOTHER or letter in ("", chosen):
        yarn = yarn_of(desk.project, chosen, typed)
        desk.change(yarns={**desk.project.yarns, yarn.letter: yarn})
        return yarn
    desk.act(
        lambda held: relettered(held, chosen, letter, typed),
        doing=f"calling yarn {chosen} {letter}",
        much=True,
    )
    return desk.project.yarns[letter]


def take_yarn_away(desk: Desk, letter: str) -> str:
    """Take a yarn that nothing uses out of yarns.csv; returns its title."""
    if letter == ANOTHER:
        raise PlanError("Choose above which yarn is to be taken away.")
    title = desk.project.all_yarns[letter].title
    doing = f"taking yarn {letter} away"
    desk.act(lambda held: without_yarn(held, letter), doing=doing, much=True)
    return title


def relettered(held: Project, old: str, new: str, typed: Mapping[str, Any]) -> Project:
    """The piece with another letter for a yarn, and with what else was typed of it."""
    changed = with_letter(held, old, new)
    yarn = yarn_of(changed, new, typed)
    return replace(changed, yarns={**changed.yarns, new: yarn})


class _YarnBoxes:
    """The boxes of one yarn, and what they showed before they were touched."""

    def __init__(self) -> None:
        self.boxes = {name: make() for name, make in YARN_BOXES.items()}
        self._shown: dict[str, Any] = {}
        self._units = "cm"

    def show(self, yarn: Yarn, units: str) -> None:
        """Show a yarn, whatever was typed."""
        self.forget()
        self.follow(yarn, units)

    def forget(self) -> None:
        """Take what is typed for nothing: the next yarn is shown whole."""
        # With nothing shown before, every box is set.
        self._shown = {}

    def follow(self, yarn: Yarn, units: str) -> None:
        """Show what has changed in the yarn, and leave what is typed beside it."""
        length = self.boxes["metres_per_ball"]
        is_typed = length.value != self._shown.get("metres_per_ball", length.value)
        if units != self._units and is_typed:
            # What is typed and not put down yet goes into the new units, too.
            length.value = round(length.value * _metres_in(self._units) / _metres_in(units), 4)
            self._shown["metres_per_ball"] = self._written("metres_per_ball", yarn, units)
        self._units = units
        length.description = IN_A_BALL.format(YARN_UNIT_IN_WORDS[units])
        for name, box in self.boxes.items():
            value = self._written(name, yarn, units)
            if name not in self._shown or value != self._shown[name]:
                box.value = self._shown[name] = value

    def _written(self, name: str, yarn: Yarn, units: str) -> Any:
        # A box shows what is not known as 0, or as nothing.
        value = getattr(yarn, name) or type(self.boxes[name].value)()
        if name == "metres_per_ball":
            return round(value / _metres_in(units), 4)
        return weights_text(yarn.part_balls_g) if name == WEIGHTS else value

    def typed(self, names: Iterable[str] = YARN_BOXES) -> dict[str, Any]:
        """What stands in the boxes of these names."""
        values = {name: self.boxes[name].value for name in names}
        if "metres_per_ball" in values:
            length = self.boxes["metres_per_ball"]
            check_number(length.value, length.description)
            # Six digits of a metre, so that yards come back as they were typed.
            values["metres_per_ball"] = round(length.value * _metres_in(self._units), 6)
        return values

    def touched(self) -> dict[str, Any]:
        """What stands in the boxes that were touched."""
        return self.typed(
            name for name, box in self.boxes.items() if box.value != self._shown[name]
        )


def _metres_in(units: str) -> float:
    """The metre or the yard, in metres."""
    return float(CM_PER[LONG_UNIT[units]]) / 100


def yarns_title(plan: Plan) -> str:
    """How many yarns there are, and the first of them by name, for a heading."""
    names = [yarn.title for yarn in plan.project.all_yarns.values()]
    more = ", …" if len(names) > MOST_NAMED else ""
    return f"Yarns: {len(names)} ({', '.join(names[:MOST_NAMED])}{more})"


def yarns_form(desk: Desk) -> Form:
    """What is known of a yarn, to be changed; or one yarn more."""
    message, one_yarn = Pane(), _YarnBoxes()
    which = one_of("yarn", _choices(desk.project))
    put_down_button = button("Keep this yarn")
    take_away_button = button("Take this yarn away")

    def chosen() -> Yarn:
        return desk.project.all_yarns.get(which.value, Yarn(""))

    def show(_: Any = None) -> None:
        one_yarn.show(chosen(), desk.project.units)

    def follow() -> None:
        offer(which, _choices(desk.project))
        one_yarn.follow(chosen(), desk.project.units)

    @heard(message)
    def put_down() -> None:
        # Of a yarn that is known only what was touched is written: another form may have changed
        # the rest of it meanwhile.
        is_new = which.value == ANOTHER
        typed = one_yarn.typed() if is_new else one_yarn.touched()
        yarn = put_down_yarn(desk, which.value, typed)
        which.value = yarn.letter
        message.value = notice(f"yarn {yarn.title} is kept, in yarns.csv.")

    @heard(message)
    def take_away() -> None:
        title = take_yarn_away(desk, which.value)
        message.value = notice(f"yarn {title} is taken away. Earlier versions has it still.")

    # The name of a new yarn may tell its colour, as long as nobody has said another one.
    def suggest(change: Any) -> None:
        if which.value == ANOTHER:
            one_yarn.boxes["colour"].suggest(change.new, NOT_SAID)

    one_yarn.boxes["name"].observe(suggest, names="value")
    which.observe(show, names="value")
    desk.on_change(follow)
    # What was typed for a yarn of another piece is not meant for this one.
    desk.on_arrival(one_yarn.forget)
    show()
    put_down_button.on_click(put_down)
    take_away_button.on_click(take_away)
    actions = widgets.HBox([put_down_button, take_away_button])
    actions.add_class("plan-actions")
    # The menu has a line to itself, so that what belongs together stands side by side.
    which.add_class("plan-line")
    fields = Form([which, *one_yarn.boxes.values()])
    fields.add_class("plan-fields")
    note = widgets.HTML(ABOUT_YARNS)
    note.add_class("plan-note")
    return Form([note, fields, actions, message])


def _choices(project: Project) -> list[tuple[str, str]]:
    """What to choose among: each yarn by its title, and another one."""
    titles = [(yarn.title, letter) for letter, yarn in project.all_yarns.items()]
    return [*titles, (ANOTHER, ANOTHER)]
