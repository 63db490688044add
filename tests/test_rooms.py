"""The rooms of the house: who may ask whom, who may write, how large the heart is.

And what tests keep to: none leans on another test, and none looks at a clock. All of it is read
from the code's own text, so that a wrong import fails here with file and line.
"""

import ast
import io
import tokenize
from importlib import import_module
from pathlib import Path

import pytest

PLANNER = Path(__file__).parents[1] / "planner"
BASICS = {"errors", "units", "colour", "doors", "guards"}

# From the ground up; a room may import from itself, the basics, and the rooms named.
MAY_IMPORT = {
    "piece": set(),
    "multiplier": {"piece"},
    "strands": {"piece"},
    "supplies": {"piece", "multiplier", "strands"},
    "rows": {"piece", "strands", "supplies"},
    "cards": {"piece", "strands", "supplies", "rows"},
    "choices": {"piece", "multiplier", "strands", "supplies"},
    "plan": {"piece", "multiplier", "strands", "supplies", "rows", "cards", "choices"},
    "knitting": {"piece", "multiplier", "strands", "supplies", "cards", "plan"},
    "buying": {"piece", "multiplier", "strands", "supplies", "knitting", "plan"},
    "mending": {
        *("piece", "multiplier", "strands", "supplies", "rows", "cards", "choices"),
        *("knitting", "plan", "finishing"),
    },
    "finishing": {"piece", "rows", "choices", "plan"},
    "folder": {"piece", "multiplier"},
    "charts": {"piece", "strands", "folder"},
    "twists": {"piece", "strands", "supplies", "rows"},
    "pictures": {"piece", "multiplier", "strands", "rows", "twists", "plan"},
    "edition": {
        *("piece", "multiplier", "strands", "supplies", "rows", "cards"),
        *("choices", "charts", "twists", "plan", "finishing"),
    },
    "paper": {
        *("piece", "multiplier", "strands", "supplies", "rows", "cards"),
        *("twists", "knitting", "plan", "pictures", "edition", "finishing"),
    },
}
# May import anything; nothing imports them.
EDGES = {"workbook", "report", "__main__", "__init__"}
ROOMS = set(MAY_IMPORT) | BASICS | EDGES

# These packages are known to these rooms only.
HEAVY = {
    "ipywidgets": {"workbook"},
    "anywidget": {"workbook"},
    "matplotlib": {"pictures", "workbook"},
}
# Calls that write to disk, and the files that may make them: set-up writes the environment.
WRITING = {"write_text", "write_bytes", "mkdir", "touch", "unlink", "rmdir", "savefig"}
WRITING |= {"copytree", "rmtree"}
WRITERS = {"folder/transaction.py", "folder/history.py", "__main__.py"}

HEART = ("piece", "multiplier", "strands", "supplies", "rows", "plan.py")
HEART_LINES = 5_000  # code lines: docstrings, comments and blank lines are left out
LONGEST_LINE = 100
LONGEST_FUNCTION = 60  # lines

TESTS = Path(__file__).parent
BENCHMARKS = TESTS / "benchmarks"
# A computer that does something else as well is slow: only benchmarks look at these.
CLOCKS = {"perf_counter", "process_time", "thread_time", "monotonic"}

FILES = sorted(PLANNER.rglob("*.py"))
DOORS = [path for path in FILES if path.name == "__init__.py" and path.parent != PLANNER]


def room_of(path):
    return path.relative_to(PLANNER).parts[0].removesuffix(".py")


def where(path, line):
    return f"planner/{path.relative_to(PLANNER)}:{line}"


def imports_of(tree):
    """Every module that a file imports, in full, with the line on which it does."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name.split("."), node.lineno
        elif isinstance(node, ast.ImportFrom) and node.level:
            yield ["a relative import"], node.lineno
        elif isinstance(node, ast.ImportFrom):
            module = node.module.split(".")
            if module == ["planner"]:  # from planner import rows
                for name in node.names:
                    yield ["planner", name.name], node.lineno
            else:
                yield module, node.lineno


def wrong_imports(path, text):
    """What a file of the house may not import, each with its line and the reason."""
    room = room_of(path)
    for module, line in imports_of(ast.parse(text)):
        if module == ["a relative import"]:
            yield f"{where(path, line)}: name the room in full"
        if room not in HEAVY.get(module[0], {room}):
            yield f"{where(path, line)}: only {HEAVY[module[0]]} may know {module[0]}"
        # A name of the public face is not a room; the edges may import anything.
        if module[0] != "planner" or len(module) == 1 or module[1] not in ROOMS or room in EDGES:
            continue
        if module[1] not in MAY_IMPORT.get(room, set()) | BASICS | {room}:
            yield f"{where(path, line)}: {room} may not import {module[1]}"
        elif len(module) > 2 and module[1] != room:
            yield f"{where(path, line)}: come in by the door, planner.{module[1]}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PLANNER)))
def test_rooms_ask_only_rooms_below(path):
    assert list(wrong_imports(path, path.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    ("place", "line", "reason"),
    [
        ("piece/chart.py", "from planner.strands import Strands", "piece may not import strands"),
        ("rows/ends.py", "from planner.plan import Plan", "rows may not import plan"),
        ("rows/ends.py", "from planner import workbook", "rows may not import workbook"),
        ("buying/lots.py", "import planner.charts.sheets", "buying may not import charts"),
        ("plan.py", "from planner.rows.load import RowLoad", "come in by the door"),
        ("supplies/winding.py", "from .lengths import Part", "name the room in full"),
        ("charts/handout.py", "from matplotlib.colors import to_rgb", "may know matplotlib"),
        ("folder/files.py", "import ipywidgets as widgets", "may know ipywidgets"),
    ],
)
def test_a_planted_wrong_import_is_found(place, line, reason):
    path = PLANNER / place
    planted = path.read_text("utf-8") + f"\n{line}\n"
    (found,) = wrong_imports(path, planted)
    assert reason in found
    assert found.startswith(where(path, planted.count("\n")))


def test_every_room_has_its_place():
    assert {room_of(path) for path in FILES} == ROOMS


@pytest.mark.parametrize("door", DOORS, ids=room_of)
def test_doors_hand_out_what_they_name(door):
    """Each name is there; no name hides a file of the room; the door says what each file holds."""
    room = import_module(f"planner.{room_of(door)}")
    files = {path.stem for path in door.parent.glob("*.py")}
    assert all(getattr(room, name) is not None for name in room.__all__)
    assert not set(room.__all__) & files
    with pytest.raises(AttributeError, match="has no name 'purl'"):
        room.purl  # noqa: B018
    assert [name for name in files - {"__init__"} if name not in room.__doc__] == []


def written_by(tree):
    """The lines on which a file writes to disk."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        words = [arg.value for arg in (*node.args, *(k.value for k in node.keywords))
                 if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]  # fmt: skip
        opens = name == "open" and any(set(word) & set("wxa+") and len(word) < 4 for word in words)
        if opens or (name in WRITING and not in_memory(node)):
            yield node.lineno


def in_memory(call):
    """Whether a picture is saved into a buffer, which is no file."""
    return bool(call.args) and getattr(call.args[0], "id", "") == "buffer"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PLANNER)))
def test_only_the_folder_writes(path):
    if path.relative_to(PLANNER).as_posix() in WRITERS:
        return
    lines = written_by(ast.parse(path.read_text("utf-8")))
    assert [where(path, line) for line in lines] == []


def test_a_planted_write_is_found():
    planted = (
        "Path(p).write_text(t)\nopen(p, 'w')\nopen(p)\nfigure.savefig(path)\nopen(p, mode='ab')"
    )
    assert list(written_by(ast.parse(planted))) == [1, 2, 4, 5]


def code_lines(path):
    """How many lines of a file hold code: docstrings, comments and blank lines are left out."""
    text = path.read_text("utf-8")
    docstrings = set()
    for node in ast.walk(ast.parse(text)):
        with_doc = (ast.Module, ast.ClassDef, ast.FunctionDef)
        if isinstance(node, with_doc) and ast.get_docstring(node):
            docstrings |= set(range(node.body[0].lineno, node.body[0].end_lineno + 1))
    no_code = (tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT)
    code = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in (*no_code, tokenize.ENDMARKER):
            code |= set(range(token.start[0], token.end[0] + 1))
    return len(code - docstrings)


def test_the_heart_stays_small():
    heart = [path for path in FILES if path.relative_to(PLANNER).parts[0] in HEART]
    assert sum(map(code_lines, heart)) <= HEART_LINES


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PLANNER)))
def test_pages_are_narrow_and_functions_short(path):
    text = path.read_text("utf-8")
    wide = [n for n, line in enumerate(text.splitlines(), 1) if len(line) > LONGEST_LINE]
    assert [where(path, line) for line in wide] == []
    functions = [n for n in ast.walk(ast.parse(text)) if isinstance(n, ast.FunctionDef)]
    long = [f for f in functions if f.end_lineno - f.lineno + 1 > LONGEST_FUNCTION]
    assert [f"{where(path, f.lineno)} {f.name}" for f in long] == []


def names_used(tree):
    """Every name that a file imports or takes from something, with its dots, and the line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            for name in node.names:
                yield f"{module}.{name.name}", node.lineno
        elif isinstance(node, ast.Attribute):
            yield ast.unparse(node), node.lineno


def wrong_in_test(tree):
    """What a test may not do, each with its line: take from another test, look at a clock."""
    imports = {n.lineno for n in ast.walk(tree) if isinstance(n, ast.Import | ast.ImportFrom)}
    for name, line in names_used(tree):
        parts = name.split(".")
        is_of_test = any(part.startswith("test_") for part in parts)
        is_clock = parts[-1].removesuffix("_ns") in CLOCKS or parts[0] == "timeit"
        if is_of_test and line in imports:
            yield f"{line}: {name} is a test's: what tests share stands in tests/helpers"
        if is_clock or name.removesuffix("_ns") == "time.time":
            yield f"{line}: {name} is a clock: only benchmarks may time"


def test_tests_stand_alone_and_look_at_no_clock():
    files = [path for path in TESTS.rglob("*.py") if path.parent != BENCHMARKS]
    assert files
    wrong = []
    for path in files:
        found = wrong_in_test(ast.parse(path.read_text("utf-8")))
        wrong += [f"tests/{path.relative_to(TESTS)}:{what}" for what in found]
    assert wrong == []


@pytest.mark.parametrize(
    "line",
    [
        "from tests.supplies.test_supplies import plan_of",
        "from tests.supplies import test_supplies",
        "import tests.supplies.test_supplies as shared",
        "from .test_lots import demo",
        "from time import perf_counter",
        "started = time.perf_counter()",
        "started = clock.process_time_ns()",
        "before = time.time()",
        "import timeit",
    ],
)
def test_a_planted_wrong_test_is_found(line):
    (found,) = wrong_in_test(ast.parse(f"import time\n{line}\ntime.sleep(1)"))
    assert found.startswith("2: ")


def test_benchmarks_find_what_they_import():
    """They are run by hand only, so nothing else would tell that a name has moved."""
    missing = []
    for path in sorted(BENCHMARKS.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            module = getattr(node, "module", None) or ""
            if module.split(".")[0] not in ("planner", "tests"):
                continue
            room = import_module(module)
            names = [name.name for name in node.names]
            missing += [f"{path.name}: {module}.{n}" for n in names if not hasattr(room, n)]
    assert missing == []
