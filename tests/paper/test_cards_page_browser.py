"""The cards page in Chromium, opened as a file with the network off, by its button alone."""

import re
from dataclasses import replace

import pytest

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.paper import cards_page
from planner.piece import WORKED, Entry
from planner.strands import note_row
from tests.helpers.knitter import draw_chart
from tests.helpers.plans import demo

pytestmark = pytest.mark.browser

PHONE, TABLET = (390, 844), (820, 1180)
# Presses that follow each other at once are one: these are a second apart.
UNHURRIED = """
  window.pressedAt = 0;
  Object.defineProperty(Event.prototype, "timeStamp", {get: () => (window.pressedAt += 1000)});
"""
# Presses the button until all is done; what the page shows and says before each press.
WALK = """() => {
  const seen = [];
  const find = (what) => document.querySelector(what);
  const isSeen = (run, main) => {
    const [{top, bottom, height}, room] = [run, main].map((it) => it.getBoundingClientRect());
    // One that is higher than all that is seen is seen from its beginning.
    const end = height < room.height ? bottom : top + 40;
    return top >= room.top - 1 && end <= room.bottom + 1;  // a pixel for rounding
  };
  for (;;) {
    const run = find("article.due li[aria-current]");
    const {left, top, width, height} = find("#done").getBoundingClientRect();
    const main = find("main");
    seen.push({
      card: find("article.due").id,
      run: run && [run.querySelector("b"), run.querySelector("i")].map((it) => it.textContent),
      lit: run && isSeen(run, main),
      named: find("article.due h2").getBoundingClientRect().top
        >= main.getBoundingClientRect().top,
      aloud: find("#aloud").textContent,
      button: [left, top, width, height].join(" "),
      runsOff: Math.max(
        document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth
      ),
      shown: document.querySelectorAll("article.due").length,
    });
    if (find("#done").ariaDisabled === "true") return seen;
    find("#done").click();
  }
}"""
ALOUD = re.compile(r"Run (\d+) of (\d+): (\d+) .*? ([A-Z])\d+[ab]?[.:]")


@pytest.fixture
def open_page(browser, tmp_path):
    """Opens the cards page of a plan as a file: `page = open_page(plan, …)`."""
    contexts = []

    def open_it(plan, size=PHONE, *, unhurried=True, context=None, **asked):
        if context is None:
            width, height = size
            viewport = {"width": width, "height": height}
            context = browser.new_context(viewport=viewport, offline=True, **asked)
            contexts.append(context)
        page = context.new_page()
        page.troubles = []
        page.on("pageerror", lambda error: page.troubles.append(str(error)))
        page.on("console", lambda message: page.troubles.append(message.text))
        page.on("request", lambda request: page.troubles.extend(
            [request.url] if not request.url.startswith("file:") else []
        ))  # fmt: skip
        if unhurried:
            page.add_init_script(UNHURRIED)
        file = tmp_path / "cards.html"
        file.write_bytes(cards_page(plan))
        page.goto(file.as_uri())
        return page

    yield open_it
    for context in contexts:
        context.close()


def piece(rows, names=(), **asked):
    chart = Chart.from_rows(rows)
    yarns = {letter: Yarn(letter, name) for letter, name in zip("ABCDEF", names, strict=False)}
    return Project("piece", chart, yarns, Gauge(20, 28), **asked)


def small(**asked):
    return piece(draw_chart(3, stitches=24, rows=18, yarns=4, smooth=1.5), **asked)


def rebuilt(rows):
    """The chart, top row first, from (row, stitches, letter) as a right-handed knitter works it."""
    worked: dict[int, str] = {}
    for row, stitches, letter in rows:
        worked[row] = worked.get(row, "") + letter * stitches
    # Row 1 is of the right side: it runs from right to left.
    lines = [line[::-1] if row % 2 else line for row, line in sorted(worked.items())]
    return [list(line) for line in reversed(lines)]


def shown_rows(seen):
    for each in seen:
        if re.fullmatch(r"r\d+", each["card"]):
            stitches, letter = each["run"]
            yield int(each["card"][1:]), int(stitches), letter


def told_rows(seen):
    """The same from what is read aloud alone."""
    row = None
    for each in seen:
        title = re.match(r"(?:Row (\d+) \(\w+\)|Cast on|Bind off|All)", each["aloud"])
        if title:
            row = title[1] and int(title[1])
        if row:
            run = ALOUD.search(each["aloud"])
            yield row, int(run[3]), run[4]


@pytest.mark.parametrize(("plan", "size"), [(demo, PHONE), (lambda: make_plan(small()), TABLET)])
def test_walked_through_by_its_button_it_gives_the_chart(open_page, plan, size):
    plan = plan()
    page = open_page(plan, size)
    seen = page.evaluate(WALK)
    chart = plan.project.chart.to_rows()
    assert rebuilt(shown_rows(seen)) == chart
    assert rebuilt(told_rows(seen)) == chart
    cards = list(dict.fromkeys(each["card"] for each in seen))
    assert cards == ["cast-on", *(f"r{row}" for row in range(1, len(chart) + 1)), "bind-off", "end"]
    assert {each["shown"] for each in seen} == {1}
    assert {each["button"] for each in seen} == {seen[0]["button"]}  # it never moves
    assert max(each["runsOff"] for each in seen) == 0
    assert all(each["lit"] and each["named"] for each in seen if each["run"])
    assert page.troubles == []


def test_back_undoes_each_press(open_page):
    page = open_page(make_plan(small()))
    places = [page.inner_text("#aloud")]
    for _ in range(12):
        page.click("#done")
        places.append(page.inner_text("#aloud"))
    for place in reversed(places[:-1]):
        page.click("#back")
        assert ALOUD.search(page.inner_text("#aloud"))[0] == ALOUD.search(place)[0]
    assert page.get_attribute("#back", "aria-disabled") == "true"


def test_a_double_press_is_one(open_page):
    page = open_page(make_plan(small()), unhurried=False)
    page.dblclick("#done")
    assert page.inner_text("#aloud").startswith(("Run 2 of", "Row 1"))


def test_a_reload_keeps_the_place_until_the_log_goes_on(open_page):
    project = small()
    plan = make_plan(project)
    page = open_page(plan)
    for _ in range(9):
        page.click("#done")
    place = page.inner_text("article.due h2"), page.inner_text("article.due [aria-current]")
    worked = page.inner_text("#worked")
    page.reload()
    again = page.inner_text("article.due h2"), page.inner_text("article.due [aria-current]")
    assert again == place
    assert page.inner_text("#worked") == worked

    lines = [Entry(row, "2026-03-02", WORKED, row, runs=note_row(plan.traced, row))
             for row in range(1, 8)]  # fmt: skip
    later = make_plan(replace(project, progress=tuple(lines)))
    page = open_page(later, context=page.context)
    assert page.inner_text("article.due h2").startswith("Row 8 (WS)")
    assert page.inner_text("#worked") == "Worked up to row 7"
    page.click("#more summary")
    assert page.inner_text("#to-type").startswith("Worked up to row 7: type 7 into notebook 4")


def test_without_script_it_is_a_list_of_all_cards(open_page):
    page = open_page(make_plan(small()), java_script_enabled=False)
    assert page.locator("article:visible").count() == 21
    assert page.locator("button:visible").count() == 0
    assert page.locator("li:visible").count() > 60
    assert page.locator("a", has_text="Go on at cast on").get_attribute("href") == "#cast-on"


def test_large_text_and_dark(open_page):
    """At 200 % nothing runs off, all is there to be scrolled to, and dark is dark."""
    page = open_page(make_plan(small()), color_scheme="dark")
    ground = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(ground) == "rgb(20, 22, 26)"
    page.click("#more summary")
    for _ in range(5):
        page.click("#larger", force=True)
    assert page.inner_text("#size") == "200 %"
    page.select_option("#look", "light")
    assert page.evaluate(ground) == "rgb(251, 250, 247)"
    page.reload()
    assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"
    seen = page.evaluate(WALK)
    assert max(each["runsOff"] for each in seen) == 0
    assert all(each["lit"] for each in seen if each["run"])
    room = "document.querySelector('main').clientHeight"
    assert page.evaluate(room) > PHONE[1] / 3


def test_twelve_runs_fit_a_phone(open_page):
    page = open_page(make_plan(piece(["ABCDEF" * 2] * 4, ["Sea green"] * 6)))
    page.click("#more summary")
    page.fill("#go-to", "3")
    page.click("#go button")
    assert page.inner_text("article.due h2").startswith("Row 3 (RS)")
    assert page.locator("article.due li:visible").count() == 12
    assert (
        page.evaluate("(m => m.scrollHeight - m.clientHeight)(document.querySelector('main'))") == 0
    )


def test_harmful_and_long_names_stay_text(open_page):
    names = [
        "<script>window.harmed = 1</script>",
        "x" * 200,
        "כחול לילה",
        "真夜中の青" * 30,
        "🐑" * 90,
    ]
    project = piece(["AABBCCDDEE"] * 4, names)
    page = open_page(make_plan(replace(project, name="</title><script>window.harmed = 1")))
    seen = page.evaluate(WALK)
    assert max(each["runsOff"] for each in seen) == 0
    assert page.evaluate("window.harmed") is None
    assert page.inner_text("h1") == "</title><script>window.harmed = 1"
    page.click("#more summary")
    panel = page.locator("#panel")
    assert all(name in panel.inner_text() for name in names)
    assert panel.evaluate("it => it.scrollWidth - it.clientWidth") <= 0
    assert page.troubles == []


def test_by_keyboard_alone(open_page):
    page = open_page(make_plan(small()))
    page.keyboard.press("Enter")
    page.keyboard.press("Space")
    assert page.inner_text("#aloud").startswith("Run 3 of")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    assert page.inner_text("#aloud").startswith("Run 2 of")
    visited = []
    for _ in range(12):
        page.keyboard.press("Tab")
        visited.append(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid" or visited[-1] == "BODY"
    assert {"done", "back", "cards", "SUMMARY"} <= set(visited)
    page.focus("summary")
    page.keyboard.press("Enter")
    assert page.locator("#panel").is_visible()
    page.keyboard.press("Escape")
    assert not page.locator("#panel").is_visible()
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_what_is_pressed_is_large_enough(open_page):
    page = open_page(make_plan(small()))
    page.click("#more summary")
    boxes = page.locator("button:visible, summary:visible, select:visible, input:visible")
    sizes = [each.bounding_box() for each in boxes.all()]
    assert len(sizes) >= 8
    assert all(size["width"] >= 44 and size["height"] >= 44 for size in sizes)
    assert page.locator("#done").bounding_box()["width"] > PHONE[0] / 2


def test_sixty_runs_of_one_stitch(open_page):
    """They cannot all be seen at once: the one to work always can."""
    page = open_page(make_plan(piece(["ABCDEFGHIJKL" * 5] * 3)))
    seen = page.evaluate(WALK)
    assert len([each for each in seen if each["card"] == "r2"]) == 60
    assert all(each["lit"] for each in seen if each["run"])
    assert max(each["runsOff"] for each in seen) == 0
    assert {each["button"] for each in seen} == {seen[0]["button"]}


def test_the_screen_is_kept_awake_where_it_can(open_page):
    page = open_page(make_plan(small()))
    page.add_init_script("""
      window.asked = [];
      const request = async (what) => (asked.push(what), {released: false});
      Object.defineProperty(navigator, "wakeLock", {value: {request}, configurable: true});
    """)
    page.reload()
    page.click("#done")
    assert page.evaluate("asked") == ["screen"]  # once, and it is held

    page.add_init_script('Object.defineProperty(navigator, "wakeLock", {value: undefined})')
    page.reload()
    page.click("#done")
    assert page.troubles == []


def test_a_browser_that_keeps_nothing(open_page):
    page = open_page(make_plan(small()))
    page.add_init_script("""
      Object.defineProperty(window, "localStorage", {get() { throw new Error("refused"); }});
    """)
    page.reload()
    page.click("#done")
    assert page.inner_text("#aloud").startswith("Run 2 of")
    page.reload()
    assert page.inner_text("#aloud").startswith("Cast on")
    assert page.troubles == []


def test_printed_it_is_the_list_of_all_cards(open_page):
    page = open_page(make_plan(small()))
    page.emulate_media(media="print")
    assert page.locator("article:visible").count() == 21
    assert page.locator("button:visible").count() == 0
