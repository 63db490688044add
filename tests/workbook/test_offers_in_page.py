"""The chart with the offers alone in a page of the browser, with a made-up model for a kernel."""

import pytest

from planner.workbook import Offers

pytestmark = pytest.mark.browser

MODEL = """
async ([source, asked]) => {
  const module = await import(URL.createObjectURL(new Blob([source], {type: "text/javascript"})));
  const bytes = (list) => new DataView(new Uint8Array(list).buffer);
  for (const name of ["grid", "embroidered"]) asked[name] = bytes(asked[name]);
  const heard = {};
  window.sent = [];
  window.model = {
    get: (name) => asked[name],
    on: (name, act) => (heard[name] ??= []).push(act),
    off() {},
    send: (message) => window.sent.push(message),
    set(name, value) {
      asked[name] = value;
      (heard[`change:${name}`] ?? []).forEach((act) => act());
    },
  };
  const el = document.body.appendChild(document.createElement("div"));
  el.style.width = "900px";
  module.default.render({model: window.model, el});
}
"""
# Four rows of eight stitches, A with a patch of B on it, seen from the lower left.
CELLS = [0] * 8 + ([0] * 3 + [1] * 2 + [0] * 3) * 2 + [0] * 8


def item(key, what, parts, **more):
    usual = {"about": "embroider", "change": "", "mind": "", "after": [], "ways": []}
    return {"key": key, "what": what, "parts": parts} | usual | more


PATCH = item("patch", "embroider the patch", [[11, 2], [19, 2]], after=["2", "4"])
CARRY = item("carry", "carry A behind it", [[8, 8]], about="carry", after=["1", "2"])
CARRY["ways"] = [[3, 1, 5, 1]]
FAR = item("far", "embroider far away", [[31, 1]], after=["3", "6"])
AS_OPENED = {
    "grid": [0, 4, 0, 8, *CELLS],
    "embroidered": [0] * 32,
    "yarns": [
        {"letter": "A", "title": "A Cream", "colour": "#f1e9d2", "ink": "black"},
        {"letter": "B", "title": "B Rock", "colour": "#4b4a4d", "ink": "white"},
    ],
    "aspect": 0.75,
    "begins_right": [True, False],
    "row_word": "row",
    "worked": 0,
    "times": 1,
    "title": "a patch",
    "figures": ["3", "6"],
    "names": ["strands", "ends"],
    "items": [FAR, CARRY, PATCH],
    "singly": True,
    "taken": [],
    "refused": [],
    "grounds": [["by itself", "what lies beside them"], ["on A", "A Cream"]],
    "pricing": False,
    "note": "",
    "said": "",
    "answered": 0,
}


@pytest.fixture
def board(page):
    source = Offers._esm
    page.goto("about:blank")
    page.evaluate(MODEL, [getattr(source, "_contents", None) or str(source), dict(AS_OPENED)])
    page.locator(".offers li").first.wait_for()
    return page


def frame(board):
    """Wait for what is drawn next."""
    board.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


def listed(board):
    """What is listed, in its order."""
    return board.locator(".offers .list section:not([hidden]) li .words").all_inner_texts()


def figures(board):
    return board.locator(".offers .figures").inner_text()


def shade(board, x, y):
    """How light the middle of a cell is drawn, from 0 to 255; cells from the lower left."""
    frame(board)
    return board.evaluate(
        """([x, y]) => {
          const canvas = document.querySelector(".paper canvas");
          const cloth = document.querySelector(".cloth");
          const sharp = devicePixelRatio;
          const [wide, tall] = [cloth.clientWidth / 8, cloth.clientHeight / 4];
          const [left, up] = [cloth.offsetLeft, cloth.offsetTop];
          const px = Math.round((left + (x + 0.3) * wide) * sharp);
          const py = Math.round((up + (3 - y + 0.3) * tall) * sharp);
          return canvas.getContext("2d").getImageData(px, py, 1, 1).data[1];
        }""",
        [x, y],
    )


def click_cell(board, x, y):
    box = board.locator(".cloth").bounding_box()
    at = {"x": (x + 0.5) * box["width"] / 8, "y": (3.5 - y) * box["height"] / 4}
    board.locator(".cloth").click(position=at)
    frame(board)


def test_a_touched_offer_lights_up_and_shows_its_price(board):
    usual = shade(board, 3, 1)
    board.locator(".offers li", has_text="far away").hover()
    assert shade(board, 3, 1) > usual + 60  # dimmed
    assert "lit" in board.locator(".offers li", has_text="far away").get_attribute("class")
    assert figures(board) == "3 strands\n6 ends"
    board.locator(".offers li", has_text="the patch").hover()
    assert shade(board, 3, 1) == usual
    assert figures(board) == "3 → 2 strands\n6 → 4 ends"


def test_a_spot_shows_first_what_is_offered_there(board):
    assert "far away" in listed(board)[0]
    click_cell(board, 3, 2)
    assert "the patch" in listed(board)[0]
    assert "Offered at row 3, stitch 5: 1" in board.locator(".offers h3").all_inner_texts()[1]
    click_cell(board, 3, 1)
    assert "behind it" in listed(board)[0]
    assert "the patch" in listed(board)[1]
    board.get_by_role("button", name="all, best first").click()
    assert "far away" in listed(board)[0]


def test_by_the_keys_alone(board):
    board.locator(".cloth").focus()
    for key in ("ArrowUp", "ArrowUp", "ArrowLeft", "ArrowLeft", "ArrowLeft"):
        board.keyboard.press(key)
    assert board.locator(".place").inner_text() == "row 3, stitch 4: B Rock; 1 offer here."
    board.keyboard.press("Enter")
    assert board.evaluate("document.activeElement.ariaLabel") == "Take: embroider the patch"
    board.keyboard.press("Enter")
    [sent] = board.evaluate("sent")
    assert sent == {"act": "take", "key": "patch", "ground": "by itself", "press": 1}
    # What is pressed once more before the answer is not sent.
    board.keyboard.press("Enter")
    assert len(board.evaluate("sent")) == 1
    # The answer: it is taken now, and the focus goes to where it can be taken back.
    board.evaluate(
        """(taken) => {
          model.set("items", model.get("items").filter((item) => item.key !== "patch"));
          model.set("taken", [taken]);
          model.set("answered", 1);
        }""",
        PATCH,
    )
    frame(board)
    assert board.evaluate("document.activeElement.ariaLabel") == "Take back: embroider the patch"
    board.keyboard.press("Enter")
    assert board.evaluate("sent")[1]["act"] == "take back"


def test_what_is_being_priced_cannot_be_pressed(board):
    board.evaluate("model.set('pricing', true)")
    frame(board)
    board.get_by_role("button", name="Take: embroider far away").click(force=True)
    assert board.evaluate("sent") == []
    assert "being priced" in board.locator(".offers .list").inner_text()


def test_what_is_embroidered_is_marked(board):
    before = board.evaluate("document.querySelector('.paper canvas').toDataURL()")
    cells = [0] * 32
    cells[11] = cells[12] = 1
    board.evaluate(
        "(cells) => model.set('embroidered', new DataView(new Uint8Array(cells).buffer))", cells
    )
    drawn = "(before) => document.querySelector('.paper canvas').toDataURL() !== before"
    board.wait_for_function(drawn, arg=before)


def test_where_the_chart_is_to_be_touched_each_touch_is_told_by_its_cell(page):
    """Mouse and keys tell the same; the second row from below, fourth stitch from the left."""
    marked = item("1 3", "the 5th of 8", [[11, 1]], about="mend")
    asked = AS_OPENED | {"touches": True, "singly": False, "items": [marked], "worked": 3}
    page.goto("about:blank")
    page.evaluate(MODEL, [getattr(Offers._esm, "_contents", None) or str(Offers._esm), asked])
    cloth = page.locator(".offers .cloth")
    size = cloth.bounding_box()
    cell = size["width"] / 8, size["height"] / 4
    cloth.click(position={"x": 3.5 * cell[0], "y": 2.5 * cell[1]})
    # The keys stand where it was touched.
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    told = [(message["act"], message["key"]) for message in page.evaluate("window.sent")]
    assert told == [("touch", "11"), ("touch", "12")]
    place = page.locator(".offers .place").inner_text()
    assert place == "row 2, stitch 4 from the right: B Rock."
    assert page.evaluate("document.activeElement.className") == "cloth hit"
