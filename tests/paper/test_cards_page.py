"""The cards page as a file: everything is in it, nothing of it is taken for HTML, nothing asked."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from planner import Chart, Construction, Gauge, Project, Yarn, make_plan, open_project
from planner.colour import contrast
from planner.paper import cards_page
from planner.piece import WORKED, Allowances, Entry
from planner.strands import note_row
from tests.conftest import DEMO
from tests.helpers.carded import case, every_case
from tests.helpers.knitter import draw_chart
from tests.helpers.plans import demo

PAPER = Path(__file__).parents[2] / "planner" / "paper"
NAMES = [
    "<script>window.harmed = 1</script>",
    "</style><img src=x onerror=window.harmed=1>",
    "'\"&amp; quotes",
    "כחול לילה",
    "\u202egnp.lanigiro",
    "真夜中の青",
    "🐑👩‍🌾🇫🇮" * 12,
    "a\0\x07b",
    "x" * 200,
    "$name ${style} #$*@",
]


class Page(HTMLParser):
    """What a page says: its tags with their attributes, and its text."""

    def __init__(self, page: bytes):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page.decode())

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def named(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


def named_piece(names=tuple(NAMES), rows=None, **asked):
    """A piece of stripes in yarns of these names, and of the first name."""
    letters = "ABCDEFGHIJKL"[: len(names)]
    chart = Chart.from_rows(rows or ["".join(letter * 2 for letter in letters)] * 4)
    yarns = {letter: Yarn(letter, name) for letter, name in zip(letters, names, strict=True)}
    return Project(names[0], chart, yarns, Gauge(20, 28), **asked)


def worked(project, rows):
    """The piece with so many rows worked, as its plan has them."""
    traced = make_plan(project).traced
    lines = []
    for row in range(1, rows + 1):
        lines.append(Entry(row, "2026-03-02", WORKED, row, runs=note_row(traced, row)))
    return replace(project, progress=tuple(lines))


def articles(page):
    return [article["id"] for article in Page(page).named("article")]


def test_all_cards_are_there_in_order():
    page = cards_page(demo())
    rows = [f"r{row}" for row in range(1, 97)]
    assert articles(page) == ["cast-on", *rows, "bind-off", "end"]
    text = Page(page).text
    for card in demo().cards:
        assert card.title in text
        for step in {step for line in card.lines for step in line.steps}:
            assert step in text


def test_a_piece_without_cast_on_begins_with_its_first_row():
    plain = named_piece(("a", "b"), allow=Allowances(cast_on=0, bind_off=0))
    assert articles(cards_page(make_plan(plain))) == ["r1", "r2", "r3", "r4", "end"]


@pytest.mark.parametrize(("rows", "due"), [(0, "cast-on"), (1, "r2"), (3, "r4"), (4, "bind-off")])
def test_it_opens_at_what_is_due(rows, due):
    page = Page(cards_page(make_plan(worked(named_piece(), rows))))
    (body,) = page.named("body")
    assert body["data-due"] == due


def test_all_worked_and_nothing_to_bind_off():
    project = worked(named_piece(("a", "b"), allow=Allowances(bind_off=0)), 4)
    (body,) = Page(cards_page(make_plan(project))).named("body")
    assert body["data-due"] == "end"


def test_the_place_is_kept_for_these_cards_alone():
    """The key does not hang on how far the log is, but on the cards."""

    def key(project):
        (body,) = Page(cards_page(make_plan(project))).named("body")
        return body["data-key"]

    project = named_piece(("a", "b"))
    assert key(project) == key(worked(project, 0))
    assert key(project) != key(replace(project, name="another"))
    assert key(project) != key(replace(project, chart=Chart.from_rows(["AB"] * 4)))


def test_what_is_typed_is_text():
    page = Page(cards_page(make_plan(named_piece())))
    plain = Page(cards_page(make_plan(named_piece(tuple("abcdefghij")))))
    # Only the words are others.
    assert [tag for tag, _ in page.tags] == [tag for tag, _ in plain.tags]
    for name in NAMES:
        assert re.sub(r"[\0\x07]", " ", name) in page.text


def test_long_names_are_cut_with_a_sign_and_stand_whole_in_the_list():
    page = Page(cards_page(make_plan(named_piece()))).text
    assert f"{'x' * 23}… I1" in page
    assert page.count("x" * 200) == 1  # and not in its lines
    # A sheep, a farmer of three signs and a flag of two; a farmer is never cut in half.
    assert not re.search("[👩\u200d]…", page)


def test_nothing_is_asked_from_outside_and_only_its_own_script_runs():
    data = cards_page(demo())
    page, text = Page(data), data.decode()
    addresses = [value for _, each in page.tags for name, value in each.items()
                 if name in ("href", "src", "action", "srcset", "data")]  # fmt: skip
    assert addresses == ["#cast-on"]
    assert not re.search(r"https?:|//[a-z]+\.[a-z]|url\(|@import", text)
    policy = page.named("meta")[1]["content"]
    for tag in ("style", "script"):
        (content,) = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none'; ")
    assert not any(
        name.startswith("on") or name == "style" for _, each in page.tags for name in each
    )


def test_the_same_bytes_every_time():
    first = cards_page(make_plan(open_project(DEMO)))
    assert cards_page(make_plan(open_project(DEMO))) == first


def test_under_a_megabyte_for_300_rows():
    """200 × 300 stitches in eight yarns, at 20 to 40 runs a row."""
    rows = draw_chart(1, stitches=200, rows=300, yarns=8, smooth=4)
    plan = make_plan(named_piece(tuple("Midnight blue" for _ in range(8)), rows=rows))
    runs = sum(len(card.lines) for card in plan.cards)
    assert runs > 300 * 15
    assert len(cards_page(plan)) < 1_000_000


@every_case
def test_the_strip_lies_as_the_chart(name, number):
    """In all ways of working each run covers its cells of the chart, between its two edges."""
    rows, plan = case(name, number)
    page = cards_page(plan).decode()
    times = plan.traced.how.rows_per_chart_row
    found = re.findall(
        r'<article id="r(\d+)".*? data-edges="([\d ]+)".*?</article>', page, re.DOTALL
    )
    runs = re.findall(r'<article id="r\d+".*?</article>', page, re.DOTALL)
    assert len(found) == len(rows) * times
    for (row, edges), article in zip(found, runs, strict=True):
        letters = re.findall(r"<i class=y\d+>(\w)</i>", article)
        numbers = [int(edge) for edge in edges.split()]
        cells = ["."] * len(rows[0])
        for letter, pair in zip(letters, pairwise(numbers), strict=True):
            lo, hi = sorted(pair)
            cells[lo:hi] = letter * (hi - lo)
        chart_row = rows[-1 - (int(row) - 1) // times]
        # A run goes on behind a cell without a stitch.
        assert [cell if at != "." else "." for cell, at in zip(cells, chart_row, strict=True)] == [
            *chart_row
        ]


@pytest.mark.parametrize("worked", ["rounds", "turned"])
def test_rounds_are_called_so(worked):
    project = named_piece(("a", "b"), how=Construction(worked=worked))
    page = Page(cards_page(make_plan(project)))
    assert page.named("body")[0]["data-row-word"] == "round"
    assert "All 4 rounds are worked" in page.text


def test_look_alikes_are_told():
    project = named_piece(("a", "b"))
    alike = {"A": Yarn("A", colour="#203050"), "B": Yarn("B", colour="#253355")}
    page = Page(cards_page(make_plan(replace(project, yarns=alike))))
    assert "Yarns A and B: they are hard to tell apart to any eye" in page.text
    unlike = alike | {"B": Yarn("B", colour="#ffffff")}
    assert "alike" not in Page(cards_page(make_plan(replace(project, yarns=unlike)))).text


# ---- WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for what is needed to see a control (1.4.11)

TEXT = [("ink", "ground"), ("ink", "raised"), ("ink", "lit"), ("quiet", "ground")]
TEXT += [("quiet", "raised"), ("on-act", "act"), ("act", "ground")]
SHAPES = [("edge", "ground"), ("edge", "raised"), ("lit-edge", "ground"), ("lit-edge", "lit")]
SHAPES += [("focus", "ground"), ("focus", "raised"), ("act", "ground")]


def looks():
    """The colours of each look, by name: light first, dark as chosen and as the device says."""
    blocks = re.findall(r"\{([^{}]*--ground: [^{}]*)\}", (PAPER / "cards.css").read_text("utf-8"))
    return [dict(re.findall(r"--([\w-]+): (#\w+)", block)) for block in blocks]


@pytest.mark.parametrize("look", looks(), ids=["light", "dark", "dark device"])
def test_contrast(look):
    assert [pair for pair in TEXT if contrast(*(look[name] for name in pair)) < 4.5] == []
    assert [pair for pair in SHAPES if contrast(*(look[name] for name in pair)) < 3] == []


def test_dark_is_dark_in_both_ways():
    light, dark, device = looks()
    assert dark == device
    assert set(light) == set(dark)
