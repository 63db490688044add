"""A piece always opens: what is wrong is named, with ways out as buttons; its bytes are kept."""

import pytest

from planner import Gauge, PlanError, open_project
from planner.folder import keep, versions
from planner.folder.history import HISTORY
from planner.piece import rows_worked
from planner.workbook import news_form, open_desk
from planner.workbook.troubles import open_anyway
from tests.helpers.faults import copied, state_of
from tests.helpers.forms import by_label, press, said, work_rows
from tests.helpers.writers import ROWS, all_at_once, base_piece

CHOICES = "about,yarn,row,stitch,choice\n"


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return base_piece(tmp_path_factory.mktemp("base") / "piece")


@pytest.fixture
def folder(base, tmp_path):
    return copied(base, tmp_path / "piece")


def ways_of(desk):
    return [way.words for trouble in desk.troubles for way in trouble.ways]


DAMAGED = {
    "chart.csv": [b"A,A\nA\n", b"", b"\xff\xfe\x00", b"what is this\n"],
    "piece.toml": [
        b"[gauge\n",
        b"",
        b" \n\n",
        b"format = 2\n",
        b'units = "ft"\n',
        b"name = 5\n",
        b"[gauge]\nstitches = 0\n",
    ],
    "yarns.csv": [b"name\nRust\n", b"letter\nA\nA\n", b"letter,colour\nA,reddish\n"],
    "choices.csv": [b"about,what\n", CHOICES.encode() + b"supply,A,one,1,bobbin\n"],
    "measurements.csv": [b"number\nx\n", b'"'],
    "progress.csv": [b"number,date,what,row\n1,2026-03-02,row knitted,1\n", b"\0"],
}
CASES = [(name, damage) for name, damages in DAMAGED.items() for damage in damages]


@pytest.mark.parametrize(("name", "damage"), CASES, ids=repr)
def test_a_damaged_file_is_set_aside_with_its_bytes(folder, name, damage):
    """It opens, refuses changes, and after the first way out it is a piece again."""
    (folder / name).write_bytes(damage)
    desk = open_desk(str(folder))
    form = news_form(desk)
    assert name in said(form)
    before = state_of(folder)
    with pytest.raises(PlanError, match="First one of the ways out at the top"):
        desk.change(gauge=Gauge(30, 30))
    assert state_of(folder) == before
    words = ways_of(desk)[0]
    assert words.startswith(f"Set {name} aside, among the history, and go on with ")
    press(form, words)
    assert "done: set" in said(form)
    assert desk.troubles == ()
    aside = [path for path in (folder / HISTORY).iterdir() if "damaged" in path.name]
    assert [path.read_bytes() for path in aside] == [damage]
    others = {other: data for other, data in before.items() if other != name}
    assert {other: state_of(folder)[other] for other in others} == others
    assert desk.project == open_project(folder)
    desk.change(gauge=Gauge(30, 30))
    assert open_project(folder).gauge == Gauge(30, 30)


@pytest.mark.parametrize(("name", "damage"), CASES[::3], ids=repr)
def test_a_damaged_file_is_mended_by_a_version(folder, name, damage):
    (folder / name).write_bytes(damage)
    desk = open_desk(str(folder))
    form, (newest, *_) = news_form(desk), versions(folder)
    press(form, f"Go back to the version of {newest}")
    assert "done: go back" in said(form)
    assert desk.troubles == ()
    assert open_project(folder) == desk.project
    aside = [path for path in (folder / HISTORY).iterdir() if "damaged" in path.name]
    assert [path.read_bytes() for path in aside] == [damage]


def test_an_emptied_piece_toml_is_asked_about_not_refilled(folder):
    """Also while the piece is open."""
    desk = open_desk(str(folder))
    (folder / "piece.toml").write_bytes(b"")
    with pytest.raises(PlanError, match=r"piece\.toml is empty"):
        desk.change(gauge=Gauge(30, 30))
    assert (folder / "piece.toml").read_bytes() == b""
    assert desk.troubles


def test_several_damaged_files_are_each_told_of(folder):
    for name in DAMAGED:
        (folder / name).write_bytes(DAMAGED[name][0])
    desk = open_desk(str(folder))
    assert len(desk.troubles) == len(DAMAGED)
    form = news_form(desk)
    for name in DAMAGED:
        assert name in said(form)
    while desk.troubles:
        left = len(desk.troubles)
        press(form, ways_of(desk)[0])
        assert len(desk.troubles) < left
    # The chart is as it was in the version, so what is knitted fits it.
    assert open_project(folder) == desk.project
    assert open_project(folder).chart.rows == len(ROWS)


def test_without_a_chart_and_without_a_version_there_is_nothing_to_show(tmp_path):
    (tmp_path / "chart.csv").write_text("")
    with pytest.raises(PlanError, match=r"chart\.csv is empty"):
        open_anyway(tmp_path)


def test_a_chart_that_is_gone_comes_back_from_a_version(folder):
    (folder / "chart.csv").unlink()
    desk = open_desk(str(folder))
    press(news_form(desk), ways_of(desk)[0])
    assert open_project(folder).chart.rows == len(ROWS)


# Contradictions


@pytest.fixture
def contradictory(folder):
    """Three rows are knitted; the second is charted otherwise since, by hand."""
    desk = open_desk(str(folder))
    work_rows(desk, 2)
    rows = ["".join(row) for row in desk.project.chart.to_rows()]
    rows[-2] = "BBBBAAAA"
    (folder / "chart.csv").write_text("\n".join(rows) + "\n")
    return folder, rows


def test_the_chart_is_taken_as_it_was_knitted(contradictory):
    folder, rows = contradictory
    by_hand = (folder / "chart.csv").read_bytes()
    desk = open_desk(str(folder))
    form = news_form(desk)
    assert desk.project.progress == ()  # shown without what is knitted
    with pytest.raises(PlanError, match="First one of the ways out"):
        desk.change(units="in")
    press(form, "Take the chart as it was knitted")
    assert desk.troubles == ()
    assert rows_worked(desk.project.progress) == 3
    assert ["".join(row) for row in open_project(folder).chart.to_rows()] == [
        *rows[:-2],
        "AAAAAAAA",
        rows[-1],
    ]
    # What was drawn by hand is kept, whenever the last version was.
    assert versions(folder)[0].files()["chart.csv"] == by_hand


def test_rows_are_taken_back_to_where_the_chart_is_as_knitted(contradictory):
    folder, rows = contradictory
    log = (folder / "progress.csv").read_bytes()
    desk = open_desk(str(folder))
    press(news_form(desk), "Take row 2 and later back")
    assert desk.troubles == ()
    assert rows_worked(open_project(folder).progress) == 1
    assert ["".join(row) for row in desk.project.chart.to_rows()] == rows
    assert (folder / "progress.csv").read_bytes().startswith(log)


def test_a_version_is_a_way_out_of_a_contradiction(contradictory):
    folder, _ = contradictory
    desk = open_desk(str(folder))
    words = next(words for words in ways_of(desk) if words.startswith("Go back"))
    press(news_form(desk), words)
    assert desk.troubles == ()
    assert open_project(folder) == desk.project


def test_a_way_out_is_not_taken_from_what_has_changed_meanwhile(contradictory):
    folder, rows = contradictory
    desk = open_desk(str(folder))
    form = news_form(desk)
    way = by_label(form)["Take the chart as it was knitted"]
    (folder / "chart.csv").write_text("\n".join([*rows[:-1], "BBBBBBBB"]) + "\n")
    way.click()
    assert "changed meanwhile. Choose once more" in said(form)
    assert (folder / "chart.csv").read_text().endswith("BBBBBBBB\n")


@pytest.mark.parametrize(
    ("name", "text", "what"),
    [
        ("choices.csv", CHOICES + "supply,B,1,1,hat\n", '"hat"'),
        ("piece.toml", 'format = 1\n[multiplier]\nway = "own"\n', "value is missing"),
    ],
)
def test_what_cannot_be_planned_opens_too(folder, name, text, what):
    """Read by itself the file is fine; the plan refuses it."""
    (folder / name).write_text(text)
    desk = open_desk(str(folder))
    assert what in desk.troubles[0].what
    form = news_form(desk)
    press(form, ways_of(desk)[0])
    assert desk.troubles == ()
    assert open_project(folder) == desk.project
    (aside,) = [path for path in (folder / HISTORY).iterdir() if "damaged" in path.name]
    assert aside.read_text() == text


# Files cut off


def test_files_cut_at_any_byte_open_and_are_mended(folder, tmp_path):
    """Every 97th place: a piece, or a trouble with a way out that leads to one."""
    keep(open_project(folder), all_at_once())
    for name, data in state_of(folder).items():
        for cut in range(0, len(data), 97):
            piece = copied(folder, tmp_path / "cut")
            (piece / name).write_bytes(data[:cut])
            assert_mended(piece)


def assert_mended(piece):
    """The piece opens; its ways out, if it needs any, lead to one that opens without."""
    _, _, troubles = open_anyway(piece)
    tries = 0
    while troubles:
        tries += 1
        assert tries < 5
        assert all(trouble.ways for trouble in troubles)
        troubles[0].ways[0].take()
        _, _, troubles = open_anyway(piece)
    open_project(piece)
