"""The painting alone in a page of the browser, with a made-up model instead of a kernel."""

from __future__ import annotations

from typing import Any

import numpy as np

from planner.workbook import Painting

NO_STITCH_BYTE = 255
LETTERS = {0: "A", 1: "B", 2: "C", NO_STITCH_BYTE: "."}  # as tests write the cells
BYTES = {letter: byte for byte, letter in LETTERS.items()}

# What the browser's side asks of a widget's model, its binary values as a kernel sends them.
MODEL = """
async ([source, asked]) => {
  const module = await import(URL.createObjectURL(new Blob([source], {type: "text/javascript"})));
  const bytes = (list) => new DataView(new Uint8Array(list).buffer);
  for (const name of ["grid", "strand_of", "touched"]) asked[name] = bytes(asked[name] ?? []);
  const traits = {};
  const heard = {};
  window.module = module;
  window.saved = 0;
  const signal = () => {
    const acts = [];
    const emit = (...values) => acts.forEach((act) => act(...values));
    return {connect: (act) => acts.push(act), emit};
  };
  const kernel = {};
  for (const name of ["disposed", "statusChanged", "connectionStatusChanged"])
    kernel[name] = signal();
  window.kernelIs = (status) => kernel.statusChanged.emit(kernel, status);
  window.connectionIs = (status) => kernel.connectionStatusChanged.emit(kernel, status);
  // What comes in one message is all there before any of it is heard of.
  window.answer = (more = {}) => {
    const values = {...more, answered: traits.stroke};
    Object.assign(traits, values);
    for (const name of Object.keys(values)) (heard[`change:${name}`] ?? []).forEach((act) => act());
  };
  window.model = {
    widget_manager: {kernel},
    get: (name) => traits[name],
    on: (name, act) => (heard[name] ??= []).push(act),
    off() {},
    send: (message) => (window.sent = message),
    set(name, value) {
      traits[name] = value;
      (heard[`change:${name}`] ?? []).forEach((act) => act());
    },
    save_changes: () => { window.saved += 1; },
  };
  window.told = (content) => (heard["msg:custom"] ?? []).forEach((act) => act(content));
  window.stop = () => heard.comm_live_update.forEach((act) => act());
  window.touched = () => Array.from(new Uint32Array(traits.touched.buffer));
  window.grid = () => Array.from(new Uint8Array(traits.grid.buffer));
  window.bytes = bytes;
  window.foreign = (list) => window.model.set("grid", bytes(list));
  const widget = module.default();
  widget.initialize({model: window.model});
  Object.assign(traits, asked);  // as from a kernel, where a widget is opened before it is filled
  window.view = () => {
    const el = document.body.appendChild(document.createElement("div"));
    el.style.width = "900px";
    widget.render({el});
  };
  view();
}
"""
COLOURS = {"A": "#112233", "B": "#cc2200", "Ab": "#22aa55"}
YARNS = [
    {"letter": letter, "title": f"{letter} yarn", "colour": colour, "ink": "white"}
    for letter, colour in COLOURS.items()
]
AS_OPENED: dict[str, Any] = {
    "yarns": YARNS,
    "aspect": 0.75,
    "begins_right": [True, False],
    "tube": False,
    "sitting": 0,
    "painted_in": 0,
    "worked": 0,
    "stroke": 0,
    "answered": 0,
    "headline": "",
    "trouble": "",
    "piece": "",
    "show_strands": False,
    "strand_yarn": [],
    "strand_labels": [],
    "tints": [],
}


COLOUR_AT = """([across, down]) => {
  const [canvas, cloth] = [".paper canvas", ".cloth"].map((each) => document.querySelector(each));
  const [box, place] = [canvas, cloth].map((each) => each.getBoundingClientRect());
  const sharp = canvas.width / box.width;
  const x = (place.left - box.left + across * place.width) * sharp;
  const y = (place.top - box.top + down * place.height) * sharp;
  const bytes = canvas.getContext("2d").getImageData(x, y, 1, 1).data;
  return "#" + [...bytes.slice(0, 3)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}"""
HOME = "http://127.0.0.1:8899/"


def go_home(page) -> None:
    """Open an empty page that has a store, as a page of JupyterLab has."""
    empty = {"body": "<!doctype html>", "content_type": "text/html"}
    page.route(f"{HOME}**", lambda route: route.fulfill(**empty))
    page.goto(HOME)


class PaintingPage:
    """The painting in a page, its cells as rows of letters, top row first; C is the yarn Ab."""

    def __init__(self, page, rows, **traits):
        self.page = page
        cells = [BYTES[letter] for row in reversed(rows) for letter in row]
        shape = [*len(rows).to_bytes(2), *len(rows[0]).to_bytes(2)]
        asked = AS_OPENED | {"grid": [*shape, *cells]} | traits
        page.evaluate(MODEL, [Painting._esm, asked])
        self.cloth = page.get_by_role("application")

    @property
    def rows(self) -> list[str]:
        """What is painted now."""
        grid = self.page.evaluate("grid()")
        rows, columns = grid[0] * 256 + grid[1], grid[2] * 256 + grid[3]
        cells = np.array(grid[4:]).reshape(rows, columns)
        return ["".join(LETTERS[byte] for byte in row) for row in cells[::-1].tolist()]

    def middle(self, x, y, rows, columns) -> tuple[float, float]:
        """The middle of a cell on the screen; cells are counted from the lower left corner."""
        box = self.cloth.bounding_box()
        across, down = (x + 0.5) / columns, (rows - y - 0.5) / rows
        return box["x"] + across * box["width"], box["y"] + down * box["height"]

    def colour_at(self, x: int, y: int) -> str:
        """What is drawn in a cell, #rrggbb, beside its middle, where a letter may stand."""
        rows, columns = len(self.rows), len(self.rows[0])
        across, up = (x + 0.25) / columns, (rows - y - 0.75) / rows
        self.page.wait_for_timeout(60)  # it is drawn with the next frame
        return self.page.evaluate(COLOUR_AT, [across, up])

    @property
    def text(self) -> str:
        """All that is said around the chart."""
        return self.page.locator(".painting").inner_text()

    @property
    def kept(self) -> str:
        """What is said of keeping."""
        return self.page.locator(".painting .kept").inner_text()

    def press(self, *keys: str) -> None:
        """Press keys in the chart."""
        self.cloth.focus()
        for key in keys:
            self.page.keyboard.press(key)

    def choose(self, name: str) -> None:
        """Choose a yarn to put in, by its title."""
        yarns = self.page.get_by_role("group", name="Yarn to put in")
        yarns.get_by_role("button", name=name, exact=True).click()

    def draw(self, start: tuple[int, int], end: tuple[int, int]) -> None:
        """A stroke with the pointer, from one cell straight to another."""
        size = len(self.rows), len(self.rows[0])
        self.page.mouse.move(*self.middle(*start, *size))
        self.page.mouse.down()
        self.page.mouse.move(*self.middle(*end, *size))
        self.page.mouse.up()

    def press_button(self, *names: str) -> None:
        """Press buttons one after the other."""
        for name in names:
            self.page.get_by_role("button", name=name, exact=True).click()

    def reshape(self, what: str, count: int, where: str) -> None:
        """Add or take away rows or stitches."""
        form = self.page.locator(".painting details", has_text="Size: ")
        if form.get_attribute("open") is None:
            form.locator("summary").click()
        self.page.get_by_label("add or take away").select_option(label=what)
        self.page.get_by_label("how many").fill(str(count))
        self.page.get_by_label("where").select_option(label=where)
        self.press_button("Do it")
