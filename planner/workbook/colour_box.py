"""A box for a colour, typed or picked, of which both parts say their label to a screen reader.

ipywidgets has one, but leaves its patch of colour nameless. What is typed is a code or a name as
the web has it (CSS Color 4); what is not understood is said beside the box, and what was there
stays. The page's side stands in colour_box.mjs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from planner.colour import hex_of, named_in
from planner.errors import PlanError

MOST_QUOTED = 40  # letters of what is not understood
BY_ITS_NAME = "Taken from its name. Change it if the yarn looks otherwise."


def colour_typed(typed: str) -> str:
    """The colour, #rrggbb, that was typed as a code or by its name on the web.

    Raises PlanError, which says what is not understood.
    """
    words = typed.strip()
    # "1f3a5f" is a code without its sign, "Sea green" a name with its words apart.
    for text in (words, f"#{words}", words.replace(" ", "").lower()):
        try:
            return hex_of(text)
        except ValueError:
            continue
    quoted = words if len(words) <= MOST_QUOTED else f"{words[:MOST_QUOTED]}…"
    last = words.split()[-1:]
    like = f"{last[0].lower()} or #b01030" if last and named_in(last[0]) else "crimson or #b01030"
    raise PlanError(
        f'"{quoted}" is no colour that is known here. Type a name such as {like}, or pick it in '
        "the patch."
    )


class ColourBox(anywidget.AnyWidget):
    """A box for a colour, #rrggbb, to be typed or picked; `said` stands below it."""

    _esm = Path(__file__).with_name("colour_box.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    value = traitlets.Unicode("#b8b8b8").tag(sync=True)
    said = traitlets.Unicode().tag(sync=True)

    def __init__(self, **traits: Any):
        super().__init__(**traits)
        self._suggested = ""
        self.observe(self._forget_words, names="value")
        self.on_msg(self._typed)

    def put(self, typed: str) -> None:
        """Take what was typed, or say why it cannot be taken."""
        try:
            self.value, self.said = colour_typed(typed), ""
        except PlanError as error:
            # The box shows what holds, be that chosen before or what every yarn begins with.
            self.said = f"{error} Until then it is {self.value}."

    def suggest(self, name: str, otherwise: str) -> None:
        """Take the colour that a yarn's name ends with, and say so, unless one was chosen.

        None was chosen while `otherwise` stands here, or what was suggested before.
        """
        if self.value not in (otherwise, self._suggested):
            return
        named = named_in(name)
        self._suggested = named or otherwise
        self.value = self._suggested
        self.said = BY_ITS_NAME if named else ""

    def _forget_words(self, _: Any) -> None:
        if self.value != self._suggested:
            self.said = ""

    def _typed(self, _: Any, content: dict[str, Any], __: Any) -> None:
        self.put(str(content.get("typed", "")))
        # The box shows what holds, also where nothing has changed.
        self.send({"taken": self.value})

    @traitlets.validate("value")
    def _as_hex(self, proposal: Any) -> str:
        try:
            return hex_of(proposal["value"])
        except ValueError:
            raise traitlets.TraitError(f"{proposal['value']!r} is no colour") from None
