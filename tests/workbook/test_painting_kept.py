"""Nothing painted is lost: what the browser keeps when the kernel is slow, stopped or started anew.

The browser's side alone, with a made-up model; real JupyterLab is in test_painting_in_lab.py.
"""

import json

import numpy as np
import pytest

from tests.helpers.painting_page import YARNS, PaintingPage, go_home

pytestmark = pytest.mark.browser

PIECE = "/pieces/scarf"
STOPPED = "program behind this page has stopped"


@pytest.fixture
def opened(page):
    """Opens the piece as a new page and a new kernel have it."""

    def open_page(rows, **traits):
        go_home(page)
        return PaintingPage(page, rows, **{"piece": PIECE} | traits)

    return open_page


def undo(page):
    return page.get_by_role("button", name="Undo", exact=True)


def redo(page):
    return page.get_by_role("button", name="Do again", exact=True)


def offer(page):
    return page.locator(".painting .offer")


def stored(page) -> dict[str, str]:
    return page.evaluate("({...localStorage})")


def unheard(page) -> list[str]:
    return [key for key in stored(page) if "unheard" in key]


# ---- the tools


def test_yarn_and_way_are_chosen_still_when_the_page_is_loaded_anew(opened, page):
    on = opened(["AA"])
    on.choose("B yarn")
    on.press_button("Block")
    on = opened(["AA"])
    assert "Chosen: B yarn." in on.text
    block = page.get_by_role("button", name="Block", exact=True)
    assert block.get_attribute("aria-pressed") == "true"
    # In another piece nothing was chosen.
    on = opened(["AA"], piece="/pieces/hat")
    assert "Chosen: A yarn." in on.text


# ---- kept, or not yet


def test_a_stroke_is_kept_once_it_is_answered(opened, page):
    page.clock.install()
    on = opened(["AA"])
    assert on.kept == "✓ kept"
    on.press("b", "Enter")
    assert on.kept == "✓ kept"  # a quick answer is worth no word
    page.clock.fast_forward(600)
    assert on.kept == "keeping …"
    assert unheard(page)
    page.evaluate("answer()")
    assert on.kept == "✓ kept"
    assert not unheard(page)
    page.evaluate("answer({trouble: 'The disk is full.'})")
    assert on.kept == ""
    assert "The disk is full." in page.get_by_role("alert").inner_text()


def test_there_is_nothing_to_press_for_keeping(opened, page):
    opened(["AA"])
    names = page.get_by_role("button").all_inner_texts()
    assert not [name for name in names if "keep" in name.lower()]


def test_a_kernel_that_does_not_answer_is_said_and_heard_again(opened, page):
    page.clock.install()
    on = opened(["AA"])
    on.press("b", "Enter")
    page.clock.fast_forward(4100)
    assert "busy, or it has stopped" in page.get_by_role("alert").inner_text()
    assert "This page keeps what you paint" in page.get_by_role("alert").inner_text()
    page.evaluate("answer()")
    assert page.get_by_role("alert").inner_text() == ""
    assert on.kept == "✓ kept"


def test_a_page_opened_anew_waits_for_the_answer_to_the_page_before(opened, page):
    page.clock.install()
    on = opened(["AB"], stroke=3, answered=2)
    page.clock.fast_forward(600)
    assert on.kept == "keeping …"
    page.evaluate("answer()")
    assert on.kept == "✓ kept"


def test_a_server_out_of_reach_is_said_until_it_is_back(opened, page):
    on = opened(["AA"])
    page.evaluate("connectionIs('connecting')")
    assert "does not answer" in page.get_by_role("alert").inner_text()
    assert on.kept == ""
    page.evaluate("connectionIs('connected')")
    assert page.get_by_role("alert").inner_text() == ""


def test_what_was_touched_is_named_until_it_is_answered(opened, page):
    on = opened(["AAA", "AAA"])
    on.press("b", "Enter")
    assert page.evaluate("touched()") == [2]
    on.press("ArrowLeft", "Enter", "Control+z")
    assert page.evaluate("touched()") == [1, 2]  # what was undone was touched, too
    page.evaluate("answer()")
    on.press("ArrowUp", "Enter")
    assert page.evaluate("touched()") == [4]
    page.evaluate("answer()")
    on.reshape("Add", 1, "rows at the top")
    assert page.evaluate("touched()") == []


def test_an_answer_leaves_the_stroke_that_is_being_made(opened, page):
    on = opened(["AAAA", "AAAA"])
    on.press("b", "Enter")
    page.mouse.move(*on.middle(0, 1, 2, 4))
    page.mouse.down()
    page.mouse.move(*on.middle(1, 1, 2, 4))
    page.evaluate("answer()")
    page.evaluate("foreign([0, 2, 0, 4, 2, 0, 0, 1, 0, 0, 0, 0])")  # from another notebook
    page.mouse.move(*on.middle(2, 1, 2, 4))
    page.mouse.up()
    assert on.rows == ["BBBA", "CAAB"]
    undo(page).click()
    assert on.rows == ["AAAA", "CAAB"]


def test_a_change_from_elsewhere_goes_under_strokes_on_their_way(opened, page):
    on = opened(["AAAA"])
    on.press("b", "Enter")
    page.evaluate("foreign([0, 1, 0, 4, 2, 0, 0, 0])")
    on.press("ArrowLeft", "Enter")
    assert on.rows == ["CABB"]
    assert page.evaluate("touched()") == [2, 3]
    page.evaluate("answer()")
    assert on.kept == "✓ kept"


def test_what_is_refused_goes_back_and_can_be_done_again(opened, page):
    on = opened(["AAA"])
    on.press("b", "Enter")
    page.evaluate("answer()")
    on.press("ArrowLeft", "Enter", "ArrowLeft", "Enter")
    assert on.rows == ["BBB"]
    page.evaluate("answer({trouble: 'No.', grid: bytes([0, 1, 0, 3, 0, 0, 1])})")
    assert on.rows == ["AAB"]
    redo(page).click()
    assert on.rows == ["BBB"]
    page.evaluate("answer({trouble: ''})")
    for _ in range(2):
        undo(page).click()
    assert on.rows == ["AAA"]


def test_views_of_one_widget_share_their_steps(opened, page):
    on = opened(["AA"])
    on.press("b", "Enter")
    page.evaluate("view()")
    both = page.get_by_role("button", name="Undo", exact=True)
    both.nth(1).click()
    assert on.rows == ["AA"]
    assert both.nth(0).is_disabled()


# ---- the kernel has stopped


def paint_while_nobody_listens(on, page):
    """B into the two stitches at the right of row 1."""
    page.evaluate("stop()")
    on.press("b", "Enter", "ArrowLeft", "Enter")


def test_a_stopped_kernel_is_said_at_once(opened, page):
    on = opened(["AA"])
    page.evaluate("stop()")
    assert STOPPED in page.get_by_role("alert").inner_text()
    assert "and it is offered" in page.get_by_role("alert").inner_text()
    assert on.kept == ""


@pytest.mark.parametrize("status", ["restarting", "autorestarting", "dead"])
def test_what_jupyterlab_knows_of_its_kernel_is_heard(opened, page, status):
    opened(["AA"])
    page.evaluate("kernelIs('busy')")
    assert STOPPED not in page.get_by_role("alert").inner_text()
    page.evaluate("(status) => kernelIs(status)", status)
    assert STOPPED in page.get_by_role("alert").inner_text()


def test_strokes_nobody_heard_are_offered_and_put_in(opened, page):
    on = opened(["AAAA", "AAAA"])
    paint_while_nobody_listens(on, page)
    on = opened(["CAAA", "AAAA"])  # changed elsewhere meanwhile
    assert offer(page).inner_text().startswith("2 stitches painted while nobody listened.")
    page.get_by_role("button", name="Put them in").click()
    assert on.rows == ["CAAA", "AABB"]
    assert page.evaluate("touched()") == [2, 3]
    assert offer(page).is_hidden()
    page.evaluate("answer()")
    assert on.kept == "✓ kept"
    undo(page).click()
    assert on.rows == ["CAAA", "AAAA"]


def test_strokes_put_in_are_offered_again_if_nobody_hears_them_again(opened, page):
    paint_while_nobody_listens(opened(["AAA"]), page)
    opened(["AAA"])
    page.get_by_role("button", name="Put them in").click()
    page.evaluate("stop()")
    opened(["AAA"])
    assert offer(page).inner_text().startswith("2 stitches painted")


def test_strokes_nobody_heard_can_be_forgotten(opened, page):
    paint_while_nobody_listens(opened(["AAA"]), page)
    on = opened(["AAA"])
    page.get_by_role("button", name="Forget them").click()
    assert offer(page).is_hidden()
    assert on.rows == ["AAA"]
    opened(["AAA"])
    assert offer(page).is_hidden()


def test_strokes_go_by_letters_when_the_yarns_stand_otherwise(opened, page):
    paint_while_nobody_listens(opened(["AAAA"]), page)
    on = opened(["AAAA"], yarns=[YARNS[0], YARNS[2], YARNS[1]])
    page.get_by_role("button", name="Put them in").click()
    assert on.rows == ["AACC"]  # the third yarn, which is B now


def test_strokes_of_another_piece_are_not_offered(opened, page):
    paint_while_nobody_listens(opened(["AAA"]), page)
    opened(["AAA"], piece="/pieces/hat")
    assert offer(page).is_hidden()
    opened(["AAA"], piece="")
    assert offer(page).is_hidden()


def test_without_a_folder_nothing_is_promised(opened, page):
    on = opened(["AAA"], piece="")
    paint_while_nobody_listens(on, page)
    assert "is not kept" in page.get_by_role("alert").inner_text()
    assert stored(page) == {}


@pytest.mark.parametrize(
    ("rows", "traits", "said"),
    [
        (["AAA", "AAA"], {"worked": 1}, "2 stitches painted while nobody listened cannot be put"),
        (["AAA", "AAA"], {"yarns": YARNS[:1]}, "2 stitches painted while nobody listened cannot"),
        (["AAAA"], {}, "2 stitches painted while nobody listened cannot be put in"),
    ],
)
def test_strokes_that_no_longer_fit_are_said(opened, page, rows, traits, said):
    paint_while_nobody_listens(opened(["AAA", "AAA"]), page)
    on = opened(rows, **traits)
    assert said in offer(page).inner_text()
    assert page.get_by_role("button", name="Put them in").count() == 0
    assert on.rows == rows
    page.get_by_role("button", name="Forget them").click()
    assert offer(page).is_hidden()


def test_a_size_given_while_nobody_listened_is_offered(opened, page):
    on = opened(["AB"])
    page.evaluate("stop()")
    on.reshape("Add", 1, "rows at the top")
    on = opened(["AB"])
    assert "A chart of 2 stitches and 2 rows was painted" in offer(page).inner_text()
    page.get_by_role("button", name="Put them in").click()
    assert on.rows == ["AB", "AB"]


def test_strokes_of_a_window_that_still_waits_are_left_to_it(opened, page):
    """The page closes before the answer, and the kernel has heard the stroke all the same."""
    page.clock.install()
    on = opened(["AAA"])
    on.press("b", "Enter")
    opened(["AAA"])
    assert offer(page).is_hidden()
    page.clock.fast_forward(10_100)
    assert offer(page).inner_text().startswith("1 stitch painted")
    page.evaluate("foreign([0, 1, 0, 3, 0, 0, 1])")  # the stroke has come to the chart
    assert offer(page).is_hidden()
    assert not unheard(page)


def test_forgetting_the_strokes_of_others_leaves_our_own(opened, page):
    page.clock.install()
    opened(["AAA"]).press("b", "Enter")
    on = opened(["AAA"])  # fresh strokes, so that it looks again later
    on.press("Home", "b", "Enter")
    page.clock.fast_forward(10_100)
    page.get_by_role("button", name="Forget them").click()
    assert len(unheard(page)) == 1


# ---- steps back outlive the page


def test_steps_back_and_forward_outlive_the_page(opened, page):
    on = opened(["AAAA"])
    for key in ("b", ".", "b"):
        on.press(key, "Enter", "ArrowLeft")
        page.evaluate("answer()")
    undo(page).click()
    page.evaluate("answer()")
    assert on.rows == ["AA.B"]
    on = opened(["AA.C"], yarns=[YARNS[0], YARNS[2], YARNS[1]])  # C is the third yarn: B
    redo(page).click()
    assert on.rows == ["AC.C"]
    for _ in range(3):
        undo(page).click()
    assert on.rows == ["AAAA"]
    assert undo(page).is_disabled()


def test_steps_back_over_another_size_outlive_the_page(opened, page):
    on = opened(["AB"])
    on.reshape("Add", 1, "rows at the top")
    page.evaluate("answer()")
    on = opened(["AB", "AB"])
    undo(page).click()
    assert on.rows == ["AB"]


def test_steps_to_another_chart_are_dropped_with_a_word(opened, page):
    on = opened(["AAA"])
    on.press("b", "Enter")
    page.evaluate("answer()")
    on = opened(["ABB"])
    assert undo(page).is_disabled()
    assert on.kept == "✓ kept · The chart was changed elsewhere, so Undo begins anew."
    on.press("b", "Home", "Enter")
    assert on.kept == "✓ kept"


def test_a_step_that_needs_a_yarn_that_is_gone_is_said(opened, page):
    on = opened(["AB"])
    on.press("a", "Enter")
    page.evaluate("answer()")
    on = opened(["AA"], yarns=YARNS[:1])
    undo(page).click()
    assert on.rows == ["AA"]
    assert "yarn that is gone" in on.kept
    assert undo(page).is_disabled()


def test_a_second_window_leaves_the_steps_to_the_first(opened, page):
    """The second one has been told of the stroke only; the first knows all steps to it."""
    on = opened(["AAA"])
    for _ in range(3):
        on.press("b", "Enter", "ArrowLeft")
        page.evaluate("answer()")
    first = stored(page)
    opened(["ABB"])
    page.evaluate("foreign([0, 1, 0, 3, 1, 1, 1])")
    assert stored(page) == first
    page.evaluate("foreign([0, 1, 0, 3, 2, 1, 1])")
    assert stored(page) != first


def test_steps_are_bounded_by_number_and_by_size(opened, page):
    key = f"chart painting, steps: {PIECE}"
    opened(["A"])
    page.evaluate("() => { for (let i = 0; i < 250; i++) foreign([0, 1, 0, 1, (i + 1) % 2]); }")
    assert len(json.loads(stored(page)[key])["past"]) == 200

    on = opened(["A" * 200] * 100)
    rng = np.random.default_rng(7)
    for _ in range(10):
        cells = rng.integers(0, 3, 20_000).tolist()
        page.evaluate("(cells) => foreign([0, 100, 0, 200, ...cells])", cells)
    assert 100_000 < len(stored(page)[key]) < 1_000_000
    undo(page).click()
    assert on.rows != ["A" * 200] * 100  # the last step is there, however large


# ---- a store that is full, forbidden or damaged


def test_in_a_full_store_steps_of_other_pieces_give_way(opened, page):
    on = opened(["AAA"])
    page.evaluate("localStorage['chart painting, steps: old'] = 'x'.repeat(1000)")
    page.evaluate(
        """() => {
            let length = 2 ** 22;
            for (let i = 0; length >= 1; i++)
                try { localStorage[`not ours ${i}`] = "x".repeat(length); } catch { length >>= 1; }
        }"""
    )
    on.press("b", "Enter")
    page.evaluate("answer()")
    names = stored(page).keys()
    assert f"chart painting, steps: {PIECE}" in names
    assert "chart painting, steps: old" not in names
    assert "not ours 0" in names


@pytest.mark.parametrize(
    "break_store",
    [
        "Storage.prototype.setItem = () => { throw new Error('full'); }",
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error('no'); }})",
        "Object.defineProperty(window, 'localStorage', {value: null})",
    ],
)
def test_without_a_store_painting_goes_on(opened, page, break_store):
    page.add_init_script(break_store)
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    on = opened(["AAA"])
    on.press("b", "Enter")
    page.evaluate("answer()")
    assert on.kept == "✓ kept"
    undo(page).click()
    assert on.rows == ["AAA"]
    assert page.get_by_role("alert").inner_text() == ""
    page.evaluate("stop()")
    on.press("Enter")
    assert "is not kept" in page.get_by_role("alert").inner_text()
    assert errors == []


RUNS = [[0, 1, "B"]]
NOT_STEPS = [
    None,
    [],
    {"rows": 1, "columns": 3},
    {"rows": 1, "columns": 3, "runs": [None]},
    {"rows": 1, "columns": 3, "runs": [[0, 4, "B"]]},
    {"rows": 1, "columns": 3, "runs": [[-1, 1, "B"]]},
    {"rows": 1, "columns": 3, "runs": [[0.5, 1, "B"]]},
    {"rows": 1, "columns": 3, "runs": [[0, 1, 7]]},
    {"rows": 1, "columns": 3, "runs": RUNS * 4},
    {"rows": 1e9, "columns": 1e9, "runs": RUNS},
    {"rows": "1", "columns": 3, "runs": RUNS},
]


def write_store(page, values):
    page.evaluate("(values) => Object.assign(localStorage, values)", values)


def expect_nothing_but_the_page(on, page):
    assert on.kept == "✓ kept"
    assert offer(page).is_hidden()
    assert undo(page).is_disabled()
    assert page.get_by_role("alert").inner_text() == ""
    before = on.rows
    on.press("Home", "b", "Enter")
    assert on.rows == ["B" + before[0][1:]]


def test_damaged_strokes_are_passed_over(opened, page):
    opened(["AAA"])
    strokes = [{"piece": PIECE, "at": 0, "gone": True, "step": step} for step in NOT_STEPS]
    texts = [*map(json.dumps, strokes), "", "null", "7", "[]", "{"]
    keys = [f"chart painting, unheard: {i}" for i in range(len(texts))]
    write_store(page, dict(zip(keys, texts, strict=True)))
    expect_nothing_but_the_page(opened(["AAA"]), page)
    sound = strokes[0] | {"step": {"rows": 1, "columns": 3, "runs": RUNS}}
    write_store(page, {keys[0]: json.dumps(sound)})
    opened(["AAA"])
    assert offer(page).inner_text().startswith("1 stitch painted")


@pytest.mark.parametrize("text", ["", "null", "7", "{", '{"past": 1}'])
def test_damaged_steps_are_passed_over(opened, page, text):
    opened(["AAA"])
    write_store(page, {f"chart painting, steps: {PIECE}": text})
    expect_nothing_but_the_page(opened(["AAA"]), page)


def test_steps_of_which_one_is_damaged_are_passed_over(opened, page):
    on = opened(["AAA"])
    on.press("b", "Enter")
    page.evaluate("answer()")
    key = f"chart painting, steps: {PIECE}"
    steps = json.loads(stored(page)[key])
    write_store(page, {key: json.dumps(steps | {"past": [*steps["past"], NOT_STEPS[4]]})})
    expect_nothing_but_the_page(opened(["AAB"]), page)


# ---- steps themselves


def test_a_step_leads_from_one_chart_to_the_other(opened, page):
    """Random charts of equal and of other shapes, there and back."""
    opened(["A"])
    rng = np.random.default_rng(2)
    for _ in range(60):
        shapes = rng.integers(1, 9, (2, 2)).tolist()
        if rng.random() < 0.7:
            shapes[1] = shapes[0]
        charts = [
            {"rows": rows, "columns": columns, "cells": rng.integers(0, 3, rows * columns).tolist()}
            for rows, columns in shapes
        ]
        before, after = page.evaluate(
            """(charts) => {
                const letters = ["A", "B", "Ab"];
                const [a, b] = charts.map((c) => ({...c, cells: new Uint8Array(c.cells)}));
                const step = (to, from) =>
                    JSON.parse(JSON.stringify(module.stepTo(to, from, (place) => letters[place])));
                const take = (step, chart) => module.take(step, chart, (l) => letters.indexOf(l));
                const there = take(step(b, a), a);
                return [take(step(a, b), there), there].map((c) => ({...c, cells: [...c.cells]}));
            }""",
            charts,
        )
        assert [before, after] == charts
