"""The history: what was replaced is kept, when it is due, within one size; going back."""

import zipfile
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from planner import Chart, Gauge, PlanError, make_plan, open_project
from planner.folder import (
    brought_back,
    change_piece,
    go_back,
    keep,
    project_of,
    see,
    set_aside,
    versions,
    with_entry,
)
from planner.folder.history import forget_oldest
from planner.piece import WORKED, Yarn
from tests.helpers.faults import state_of
from tests.helpers.folders import write
from tests.helpers.writers import all_at_once, base_piece

NOON = datetime(2026, 3, 2, 12, 0, 0)


def at(minutes):
    return lambda: NOON + timedelta(minutes=minutes)


def gauge(stitches):
    return lambda held: replace(held, gauge=Gauge(stitches, 28))


def changed_at(folder, *minutes):
    """The piece's gauge is changed at each of these minutes after noon."""
    for number, minute in enumerate(minutes):
        keep(open_project(folder), gauge(30 + number), now=at(minute), doing=f"change {number}")


def befores(folder):
    return [version.before for version in reversed(versions(folder))]


# When a version is due


def test_a_version_before_the_first_change_and_every_ten_minutes(tmp_path):
    changed_at(write(tmp_path), 0, 3, 9.9, 10, 15, 60)
    assert befores(tmp_path) == ["change 0", "change 3", "change 5"]
    first = versions(tmp_path)[-1]
    assert str(first) == "2026-03-02 12:00, before: change 0"
    assert first.files()["piece.toml"] == b'format = 1\nname = "Scarf"\n'


def test_a_clock_that_is_set_back_neither_stops_nor_floods_the_history(tmp_path):
    """By an hour: the next change has a version, and then again one in ten minutes."""
    changed_at(write(tmp_path), 0, -60, -59, -55, -50, -49)
    assert sorted(befores(tmp_path)) == ["change 0", "change 1", "change 4"]
    assert len(open_project(tmp_path).measurements) == 0


def test_what_only_grows_needs_no_version(tmp_path):
    folder = base_piece(tmp_path / "piece")
    before = len(versions(folder))

    def mark(held):
        return replace(held, progress=with_entry(held, WORKED, 2))

    keep(open_project(folder), mark, now=at(0))
    assert len(open_project(folder).progress) == 2
    assert len(versions(folder)) == before


def test_before_a_change_of_much_a_version_is_kept_at_once(tmp_path):
    """More than a tenth of the chart, another size, or what is said to be much."""
    folder = write(tmp_path, chart="A,B\n" * 20)
    charts = [["AB"] * 20, ["AB"] * 19 + ["BB"], ["BA"] * 5 + ["AB"] * 15, ["AB"] * 21]
    for number, rows in enumerate(charts):
        chart = Chart.from_rows(rows)
        keep(
            open_project(folder),
            lambda held, chart=chart: replace(held, chart=chart),
            now=at(number),
            doing=f"chart {number}",
        )
    assert befores(folder) == ["chart 1", "chart 2", "chart 3"]
    keep(open_project(folder), gauge(31), now=at(4), doing="one field", much=True)
    assert befores(folder)[-1] == "one field"


def test_two_versions_in_one_moment_are_two(tmp_path):
    write(tmp_path)
    for stitches in (31, 32):
        keep(open_project(tmp_path), gauge(stitches), now=at(0), doing="it", much=True)
    assert len(versions(tmp_path)) == 2


@pytest.mark.parametrize("doing", ["", "../../x", 'a:b*?"<>|', "毛糸" * 100, "🧶" * 300, "x" * 999])
def test_any_words_name_a_version(tmp_path, doing):
    write(tmp_path)
    keep(open_project(tmp_path), gauge(31), doing=doing, now=at(0))
    (version,) = versions(tmp_path)
    assert version.when == NOON
    assert len(version.path.name.encode()) <= 200
    assert not set(version.path.name) & set('/\\:*?"<>|')


# One size


def test_the_oldest_go_first_and_the_newest_stays(tmp_path):
    changed_at(write(tmp_path), 0, 10, 20, 30)
    size = versions(tmp_path)[0].path.stat().st_size
    forget_oldest(tmp_path, most_bytes=2 * size + size // 2)
    assert befores(tmp_path) == ["change 2", "change 3"]
    forget_oldest(tmp_path, most_bytes=1)
    assert befores(tmp_path) == ["change 3"]


def test_the_limit_holds_at_every_change(tmp_path, monkeypatch):
    monkeypatch.setattr("planner.folder.history.forget_oldest.__defaults__", (2000,))
    changed_at(write(tmp_path), *range(0, 200, 10))
    kept = versions(tmp_path)
    assert 1 < len(kept) < 20
    assert sum(version.path.stat().st_size for version in kept) <= 2000
    assert befores(tmp_path)[-1] == "change 19"


def test_a_version_that_cannot_be_deleted_refuses_no_change(tmp_path, monkeypatch):
    changed_at(write(tmp_path), 0, 10)
    monkeypatch.setattr("planner.folder.history.forget_oldest.__defaults__", (1,))
    monkeypatch.setattr("pathlib.Path.unlink", lambda *_, **__: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        forget_oldest(tmp_path)

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.unlink", refuse)
    forget_oldest(tmp_path)
    assert len(versions(tmp_path)) == 2


def test_what_others_put_there_is_left_alone(tmp_path):
    changed_at(write(tmp_path), 0)
    history = tmp_path / "history"
    names = ("notes.txt", "2026-99-99T12-00-00-000 x.zip", "2026-03-02 x.zip")
    for name in names:
        (history / name).write_text("mine")
    (history / "2026-03-02T13-00-00-000 a folder.zip").mkdir()
    forget_oldest(tmp_path, most_bytes=0)
    assert befores(tmp_path) == ["change 0"]
    assert all((history / name).read_text() == "mine" for name in names)


# Going back


def test_going_back_is_a_change_with_a_version_of_its_own(tmp_path):
    """What was measured and knitted stays; what was there before going back is kept, however short
    ago the last version was, and can be gone back to in its turn."""
    folder = base_piece(tmp_path / "piece")
    keep(open_project(folder), all_at_once(), much=True)
    now = open_project(folder)
    newest = versions(folder)[0]
    seen, plan = go_back(see(folder), newest, make_plan)
    back = open_project(folder)
    assert back == seen.project == plan.project
    assert (back.name, back.gauge, back.choices) == ("Scarf", Gauge(20, 28), now.choices[:1])
    assert (back.measurements, back.progress) == (now.measurements, now.progress)
    assert versions(folder)[0].before.startswith("going back to 20")
    go_back(see(folder), versions(folder)[0], make_plan)
    assert open_project(folder) == now


def test_a_version_without_settings_is_called_what_the_piece_is_called(tmp_path):
    folder = write(tmp_path, piece=None)
    keep(open_project(folder), gauge(31))
    assert project_of(versions(folder)[0]).name == tmp_path.name
    change, doing = brought_back(versions(folder)[0])
    assert doing.startswith("going back to 20")
    assert change(open_project(folder)).name == tmp_path.name


def test_the_order_of_choices_comes_back(tmp_path):
    """Of two about one area the later holds, so the piece shown is the one in the folder."""
    folder = base_piece(tmp_path / "piece")
    first, second = replace(open_project(folder).choices[0], row=1, stitch=5), None
    second = replace(first, row=2)
    for choices in ((first, second), (second,), (second, first), (first, second)):
        seen, _ = change_piece(
            see(folder),
            lambda held, choices=choices: replace(held, choices=choices),
            check=lambda _: None,
        )
        assert open_project(folder).choices == seen.project.choices == choices


def test_a_version_that_cannot_be_read_is_said(tmp_path):
    changed_at(write(tmp_path), 0)
    (version,) = versions(tmp_path)
    whole = version.path.read_bytes()
    for cut in range(0, len(whole), 40):
        version.path.write_bytes(whole[:cut])
        with pytest.raises(PlanError, match=r"cannot be read.*Take another"):
            go_back(see(tmp_path), version, lambda _: None)
    spoilt = bytearray(whole)
    spoilt[45] ^= 0xFF
    version.path.write_bytes(spoilt)
    with pytest.raises(PlanError, match="cannot be read"):
        project_of(version)


def test_a_version_that_would_fill_the_memory_is_refused(tmp_path):
    changed_at(write(tmp_path), 0)
    (version,) = versions(tmp_path)
    with zipfile.ZipFile(version.path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("chart.csv", bytes(201_000_000))
    with pytest.raises(PlanError, match="too large"):
        version.files()


# Set aside


@pytest.mark.parametrize("name", ["yarns.csv", "choices.csv"])
def test_what_is_set_aside_keeps_its_bytes(tmp_path, name):
    """Also where there is no such file."""
    write(tmp_path)
    damaged = {"yarns.csv": b"letter\n\xff\xfe", "choices.csv": None}[name]
    if damaged is not None:
        (tmp_path / name).write_bytes(damaged)
    set_aside(tmp_path, name, b"", NOON)
    assert state_of(tmp_path)[name] == b""
    aside = list((tmp_path / "history").glob("*"))
    assert [path.read_bytes() for path in aside] == ([] if damaged is None else [damaged])
    assert keep(open_project(tmp_path), lambda held: replace(held, yarns={"A": Yarn("A")})).yarns
