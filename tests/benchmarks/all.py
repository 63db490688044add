"""Runs the benchmarks, each in a Python of its own, and writes what they measured into RESULTS.md.

    python tests/benchmarks/all.py [WORD …]

runs those whose names contain one of the words, or all of them, and keeps what was measured of the
others. It takes every module here that has a function `measure`. What matters most of the table is
shown in the README as well.
"""

from __future__ import annotations

import ast
import json
import os
import platform
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict
from datetime import date
from importlib import import_module
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.results import Result

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
RESULTS, README = HERE / "RESULTS.md", ROOT / "README.md"
INTRODUCTION = """\
# What was measured

Written by `.venv/bin/python tests/benchmarks/all.py`; not by hand. Each figure stands beside its
floor, the least that such work can take, or a peer that does the same; both were measured in the
same run. How to read a line: the figure, how many times its floor or peer it is, how it grows with
size, what was aimed at, and whether this run met it.
"""
HEAD = ["what", "figure", "beside", "times that", "grows", "aim", "met"]
# The lines of the README: the benchmark, and words of the line.
FOR_README = [
    ("bench_imports", "from planner import make_plan"),
    ("bench_actions", "Row worked → next card and message, 150 × 150"),
    ("bench_actions", "Gauge changed → winding list, 150 × 150"),
    ("bench_drawing", "The four pictures together, the demo"),
    ("bench_strands", "HiGHS"),
    ("bench_tables", "make_plan and all tables, smooth 150 × 150"),
]
BEGIN, END = "<!-- from RESULTS.md -->", "<!-- end of what is from RESULTS.md -->"


def benchmarks() -> Iterator[str]:
    """The names of the modules that can measure."""
    for path in sorted(HERE.glob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        if any(isinstance(node, ast.FunctionDef) and node.name == "measure" for node in tree.body):
            yield path.stem


# ---- one line of the table


def number(value: float) -> str:
    """A figure with three digits that count, and none after the point from 1,000 on."""
    if abs(value) >= 1000:
        return f"{value:,.0f}"
    return f"{value:.3g}"


def row_of(result: Result) -> list[str]:
    """The cells of a result's line."""
    beside = times = ""
    if result.beside:
        beside = result.beside
        if result.beside_figure is not None:
            beside += f": {number(result.beside_figure)}"
    if result.ratio is not None:
        times = number(result.ratio)
    met = {True: "met", False: "not met", None: ""}[result.met]
    if result.why:
        met = f"{met}: {result.why}" if met else result.why
    figure = f"{number(result.figure)} {result.unit}"
    cells = [result.what, figure, beside, times, result.grows, result.aim, met]
    # A bar would end the cell.
    return [cell.replace("|", "/").replace("\n", " ") for cell in cells]


def table_of(rows: list[list[str]]) -> str:
    """Rows of cells as a table, the first one its head."""
    head, *rest = rows
    lines = [head, ["---"] * len(head), *rest]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def rows_in(text: str) -> list[list[str]]:
    """The rows of the tables in some text, without their heads."""
    rows = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and len(cells) == len(HEAD) and cells != HEAD:
            rows.append(cells)
    return [cells for cells in rows if set(cells) != {"---"}]


# ---- one benchmark


def this_machine() -> str:
    """The computer in words, by what matters for speed."""
    model = platform.processor() or platform.machine()
    about = Path("/proc/cpuinfo")
    if about.exists():
        named = re.search(r"^model name\s*: (.+)$", about.read_text(), re.MULTILINE)
        model = named[1] if named else model
    return f"{os.cpu_count()} cores of {model}, Python {platform.python_version()}"


def run(name: str) -> list[Result]:
    """What a benchmark measures, in a Python of its own."""
    command = [sys.executable, __file__, "--measure", name]
    answer = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True)
    return [Result(**values) for values in json.loads(answer.stdout.splitlines()[-1])]


def measure_here(name: str) -> None:
    """Measure in this Python, and print the results as the last line."""
    results = import_module(f"tests.benchmarks.{name}").measure()
    print(json.dumps([asdict(result) for result in results], default=float))


def section_of(name: str, results: list[Result]) -> str:
    """A benchmark's part of RESULTS.md."""
    purpose = ast.get_docstring(ast.parse((HERE / f"{name}.py").read_text("utf-8"))) or ""
    first = purpose.split("\n\n")[0].replace("\n", " ")
    rows = [HEAD, *map(row_of, results)]
    return f"{first}\n\n{date.today()}, {this_machine()}.\n\n{table_of(rows)}"


# ---- the whole


def sections_in(text: str) -> dict[str, str]:
    """The parts of RESULTS.md by the names of their benchmarks."""
    _, *parts = re.split(r"^## (\w+)\n\n", text, flags=re.MULTILINE)
    return {name: part.strip() + "\n" for name, part in zip(parts[::2], parts[1::2], strict=True)}


def for_readme(text: str) -> str:
    """What the README shows of RESULTS.md."""
    sections = sections_in(text)
    rows = [["what", "takes", "beside", "times that"]]
    for name, words in FOR_README:
        found = [row for row in rows_in(sections.get(name, "")) if words in " ".join(row)]
        rows += [row[: len(rows[0])] for row in found[:1]]
    return table_of(rows)


def put_into_readme(readme: str, table: str) -> str:
    """The README with this table between its marks."""
    before, rest = readme.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n\n{table}\n{END}{after}"


def main(words: list[str]) -> int:
    names = list(benchmarks())
    wanted = [name for name in names if not words or any(word in name for word in words)]
    text = RESULTS.read_text("utf-8") if RESULTS.exists() else ""
    sections = {name: part for name, part in sections_in(text).items() if name in names}
    failed = 0
    for name in wanted:
        start = time.perf_counter()
        try:
            sections[name] = section_of(name, run(name))
        except subprocess.CalledProcessError:
            # It has said why; what was measured before stays.
            failed += 1
        print(f"{name}: {time.perf_counter() - start:.0f} s", flush=True)
    parts = [f"## {name}\n\n{sections[name]}" for name in names if name in sections]
    text = "\n".join([INTRODUCTION, *parts])
    RESULTS.write_text(text, encoding="utf-8")
    readme = README.read_text("utf-8")
    README.write_text(put_into_readme(readme, for_readme(text)), encoding="utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        measure_here(sys.argv[2])
    else:
        sys.exit(main(sys.argv[1:]))
