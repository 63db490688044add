"""What was measured: the README says the same, and everything written can be read again."""

from pathlib import Path

from tests.benchmarks import all as written
from tests.benchmarks.results import Result

README = written.README.read_text("utf-8")


def test_the_readme_shows_what_the_table_says():
    table = written.for_readme(written.RESULTS.read_text("utf-8"))
    measured = [name for name, _ in written.FOR_README if name in written.benchmarks()]
    assert len(table.splitlines()) == 2 + len(measured)
    assert written.put_into_readme(README, table) == README


def test_every_benchmark_that_measures_has_its_part():
    sections = written.sections_in(written.RESULTS.read_text("utf-8"))
    assert list(sections) == list(written.benchmarks())
    for name, part in sections.items():
        assert written.rows_in(part), name


def test_where_an_aim_is_not_met_the_line_says_why():
    for row in written.rows_in(written.RESULTS.read_text("utf-8")):
        assert row[-1] != "not met", row[0]


def test_a_line_says_all_of_a_result():
    result = Result(
        *("Twelve rows", 1234.5, "s", "by hand", 2469.0),
        grows="rows^1.0",
        aim="at most 1 s",
        met=False,
        why="a bar | in it",
    )
    row = ["Twelve rows", "1,234 s", "by hand: 2,469", "0.5", "rows^1.0", "at most 1 s"]
    row.append("not met: a bar / in it")
    assert written.row_of(result) == row
    assert written.rows_in(written.table_of([written.HEAD, row])) == [row]


def test_what_is_measured_anew_leaves_the_rest(monkeypatch, tmp_path):
    """Two benchmarks; the second one is run again."""
    for name in ("bench_a", "bench_b"):
        (tmp_path / f"{name}.py").write_text('"""Knits."""\ndef measure(): ...\n')
    monkeypatch.setattr(written, "HERE", tmp_path)
    for name in ("RESULTS", "README"):
        monkeypatch.setattr(written, name, tmp_path / f"{name}.md")
    written.README.write_text(f"before\n{written.BEGIN}{written.END}\nafter\n")
    figures = iter((1, 2, 3))
    monkeypatch.setattr(written, "run", lambda name: [Result(name, next(figures), "s")])
    assert written.main([]) == 0
    assert written.main(["bench_b"]) == 0
    rows = written.rows_in(Path(written.RESULTS).read_text("utf-8"))
    assert [row[:2] for row in rows] == [["bench_a", "1 s"], ["bench_b", "3 s"]]
    assert written.README.read_text("utf-8").startswith("before\n")
    assert written.README.read_text("utf-8").endswith("\nafter\n")
