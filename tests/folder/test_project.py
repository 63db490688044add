"""The project folder: what spreadsheets write, what goes wrong in it, and what is said of it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from planner import Chart, Gauge, PlanError, Yarn, make_plan, open_project, read_chart
from planner.folder import read_text
from tests.helpers.folders import GOOD, comments, contents, kept, write

# What spreadsheets and editors write


@pytest.mark.parametrize(
    "content",
    [
        "A,B,B\nA,A,B\n",
        "A,B,B\r\nA,A,B\r\n",
        "A,B,B\rA,A,B\r",
        "A,B,B\nA,A,B",
        "A;B;B\nA;A;B\n",
        "A\tB\tB\nA\tA\tB\n",
        "\ufeffA;B;B\r\nA;A;B\r\n",
        "A,B,B\nA,A,B\n".encode("utf-16"),
        "A\tB\tB\r\nA\tA\tB\r\n".encode("utf-16"),
        b"\xfe\xff" + "A;B;B\nA;A;B\n".encode("utf-16-be"),
        " A , B , B \nA,A,B\n",
        '"A","B","B"\n"A","A","B"\n',
        "A,B,B,\nA,A,B,\n",
        "A,B,B,,\nA,A,B,,\n,,,,\n",
        "\nA,B,B\n\nA,A,B\n\n",
    ],
    ids=repr,
)
def test_the_same_chart(tmp_path, content):
    write(tmp_path, chart=content)
    assert read_chart(tmp_path / "chart.csv") == Chart.from_rows(["ABB", "AAB"])
    assert make_plan(open_project(tmp_path)).traced.count == 2


@pytest.mark.parametrize("row", ["ABBA", "ABA", "AB"])
def test_one_letter_a_stitch_without_separators(tmp_path, row):
    """A file without any separator holds one letter a stitch."""
    write(tmp_path, chart=f"{row}\n{'A' * len(row)}\n")
    assert read_chart(tmp_path / "chart.csv") == Chart.from_rows([row, "A" * len(row)])


def test_no_stitch_and_long_letters(tmp_path):
    write(tmp_path, chart="A,Sea,.\nÄ,Sea,A\n")
    chart = read_chart(tmp_path / "chart.csv")
    assert chart.letters == ("A", "Sea", "Ä")
    assert chart.columns == 3


def test_yarns_as_a_spreadsheet_saves_them(tmp_path):
    """Headings with blanks and capitals, semicolons, CRLF and a byte-order mark."""
    heading = "\ufeffLetter;Name;Metres per ball;Grams per ball;Balls in hand;Feltable;May be cut"
    yarns = heading + ";Colour\r\nA;Rust;85.5;50;2;Yes;no;#B5452C\r\n"
    yarn = open_project(write(tmp_path, yarns=yarns)).yarns["A"]
    assert (yarn.name, yarn.metres_per_ball, yarn.grams_per_ball, yarn.balls_in_hand) == (
        "Rust",
        85.5,
        50,
        2,
    )
    assert (yarn.feltable, yarn.may_be_cut, yarn.colour) == (True, False, "#b5452c")


def test_how_a_yarn_behaves_and_its_part_balls(tmp_path):
    """Two balls begun, weighed, parted by a semicolon; what is left empty is as usual."""
    yarns = (
        'Letter,Grams per ball,Superwash,Surface,Part balls g\nA,50,yes,Hairy,"34; 12.5 g"\nB,,,,\n'
    )
    yarns = open_project(write(tmp_path, yarns=yarns)).yarns
    yarn = yarns["A"]
    assert (yarn.superwash, yarn.surface, yarn.part_balls_g) == (True, "hairy", (34, 12.5))
    assert yarn.balls == (0.68, 0.25)
    assert yarns["B"] == Yarn("B")


@pytest.mark.parametrize(
    "changed",
    [
        {"superwash": True},
        {"surface": "slippery"},
        {"part_balls_g": (34.0, 12.25, 7.0)},
        {"superwash": True, "surface": "hairy", "part_balls_g": (1 / 3,), "balls_in_hand": 2},
    ],
)
def test_yarns_come_back_as_they_were_saved(tmp_path, changed):
    piece = open_project(write(tmp_path))
    yarns = piece.yarns | {"A": replace(piece.yarns["A"], grams_per_ball=50.0, **changed)}
    kept(piece, yarns=yarns)
    again = open_project(tmp_path)
    read, wanted = again.yarns["A"], yarns["A"]
    assert read.part_balls_g == pytest.approx(wanted.part_balls_g)
    assert replace(read, part_balls_g=()) == replace(wanted, part_balls_g=())
    assert again.yarns["B"] == piece.yarns["B"]
    # And taken back.
    kept(again, yarns=piece.yarns)
    assert open_project(tmp_path).yarns == piece.yarns


def test_text_that_looks_like_something_else(tmp_path):
    """A yarn named NA or 1E5, a dye lot 007, a letter TRUE: text stays the text it is."""
    yarns = "letter,name,dye_lot\nA,NA,007\nB,1E5,1E5\nNA,nan,1/2\n"
    piece = open_project(write(tmp_path, chart="A,B,NA\nA,B,NA\n", yarns=yarns))
    assert {y.letter: (y.name, y.dye_lot) for y in piece.yarns.values()} == {
        "A": ("NA", "007"),
        "B": ("1E5", "1E5"),
        "NA": ("nan", "1/2"),
    }
    plan = make_plan(piece)
    assert plan.shopping_list[["yarn", "name", "dye_lot"]].to_numpy().tolist() == [
        ["A", "NA", "007"],
        ["B", "1E5", "1E5"],
        ["NA", "nan", "1/2"],
    ]
    assert set(plan.winding_list.yarn) == {"A", "B", "NA"}


@pytest.mark.parametrize(
    "name",
    [
        "=SUM(A1:A9)",
        "+1 spare",
        "-5 % wool",
        "@home",
        "'quoted",
        "a,b;c",
        'say "so"',
        "<b>bold</b>",
    ],
)
def test_names_survive_as_they_are(tmp_path, name):
    """Names that a spreadsheet would take for a formula, or that need quoting, from file to
    table to file."""
    quoted = '"' + name.replace('"', '""') + '"'
    piece = open_project(write(tmp_path, yarns=f"letter,name\nA,{quoted}\nB,Sea\n"))
    assert piece.yarns["A"].name == name
    plan = make_plan(piece)
    assert plan.shopping_list.name[0] == name
    assert name in plan.winding_list.name.tolist()
    kept(piece, name=name)
    assert open_project(tmp_path).name == name


def test_colours_by_name(tmp_path):
    yarns = open_project(write(tmp_path, yarns="letter,colour\nA,navy\nB,\n")).yarns
    assert yarns["A"].colour == "#000080"
    assert yarns["B"].colour == "#b8b8b8"


def test_only_a_chart_and_settings(tmp_path):
    """Yarns and choices may be missing, the settings may say nothing."""
    piece = open_project(write(tmp_path, yarns=None, piece=""))
    assert piece.name == tmp_path.name
    assert piece.gauge == Gauge()
    assert make_plan(piece).findings.about.tolist()[:2] == ["yarns", "yarns"]


def smooth_chart(stitches, rows):
    """A big chart in four yarns, made of smooth areas, as CSV."""
    rng = np.random.default_rng(7)
    fields = gaussian_filter(rng.standard_normal((4, rows, stitches)), (0, 12, 12))
    return "\n".join(",".join("ABCD"[y] for y in row) for row in fields.argmax(axis=0)) + "\n"


@pytest.mark.parametrize(
    "chart",
    ["A\n", "A,A,A\nA,A,A\n", smooth_chart(300, 500)],
    ids=["1 × 1", "one colour", "500 × 300"],
)
def test_smallest_plainest_largest(tmp_path, chart):
    plan = make_plan(open_project(write(tmp_path, chart=chart, yarns=None)))
    rows = chart.strip().split("\n")
    assert len(plan.rows) == len(rows)
    assert plan.rows.stitches.tolist() == [len(row.split(",")) for row in rows]
    assert plan.strands.stitches.sum() == sum(len(row.split(",")) for row in rows)
    if len(rows) < 500:
        assert plan.traced.count == 1


# Everything that can be wrong

CHOICES = "about,yarn,row,stitch,choice\n"

WRONG = [
    # the chart
    (
        {"chart": "A,A,A\nA,A\nA,A,A\n"},
        ["chart.csv", "row 2", "line 2", "2 stitches", "the others 3", "Add or take away", "'.'"],
    ),
    (
        {"chart": "A,A\nA,A\nA,A,A\n"},
        ["chart.csv", "row 1", "line 3", "3 stitches", "the others 2"],
    ),
    ({"chart": "A;A;A\nA,A,A\n"}, ["chart.csv", "row", "stitches", "the others"]),
    ({"chart": ""}, ["chart.csv", "empty", "top row first"]),
    ({"chart": "\n\n"}, ["chart.csv", "empty"]),
    ({"chart": ",,,\n,,,\n"}, ["chart.csv", "empty"]),
    ({"chart": "\ufeff"}, ["chart.csv", "empty"]),
    (
        {"chart": "A,B\nA,5\n"},
        ["chart.csv", "row 1", "stitch 1 from the right", "line 2, column 2", '"5"', "yarn letter"],
    ),
    ({"chart": "A,B\nA,?\n"}, ["chart.csv", "row 1", '"?"', "one to three letters"]),
    ({"chart": "A,Rust\nA,A\n"}, ["chart.csv", "row 2", '"Rust"', "one to three letters"]),
    ({"chart": "A,B\n#REF!,B\n"}, ["chart.csv", "row 1", "stitch 2 from the right", '"#REF!"']),
    (
        {"chart": "A,,B\nA,A,B\n"},
        ["chart.csv", "row 2", "stitch 2 from the right", "holds nothing", "'.' for no stitch"],
    ),
    ({"chart": "A,A\n.,.\n"}, ["chart.csv", "row 1", "no worked stitch", "Take the row out"]),
    ({"chart": "A B\nB A\n"}, ["chart.csv", "row 2", "yarn letter"]),
    ({"chart": '"A,B\nA,B\n'}, ["chart.csv", "cannot be read as CSV", "quotation mark"]),
    ({"chart": b"A,\0\nA,B\n"}, ["chart.csv", "not a text file", "CSV UTF-8"]),
    ({"chart": "A,B\nA,B\n".encode("utf-16-le")}, ["chart.csv", "not a text file", "CSV UTF-8"]),
    (
        {"chart": "A,B\nA,Ä\n".encode("latin-1")},
        ["chart.csv", "line 2", "not in UTF-8", "save it once more"],
    ),
    ({"chart": b"PK\x03\x04\x14\x00\xff\xfe\x00"}, ["chart.csv", "UTF-8"]),
    ({"chart": None}, ["no file chart.csv", "folder"]),
    # the yarns
    (
        {"yarns": "letter,name\nA,Rust\nA,Sea\n"},
        ["yarns.csv", "letter A twice", "letter of its own"],
    ),
    (
        {"yarns": "letter,name\n,Rust\n"},
        ["yarns.csv", "without a letter", "Rust", "line 2", "on the chart"],
    ),
    ({"yarns": "name,colour\nRust,red\n"}, ["yarns.csv", 'no column "letter"', "first line"]),
    ({"yarns": "A,Rust\nB,Sea\n"}, ["yarns.csv", 'no column "letter"', "first line"]),
    (
        {"yarns": "letter,price\nA,9\n"},
        ["yarns.csv", '"price"', "means nothing here", "metres_per_ball"],
    ),
    (
        {"yarns": "letter,name\nA,Rust, dark\n"},
        ["yarns.csv", "line 2", "more cells than the header", "Quote"],
    ),
    (
        {"yarns": "letter,colour\nA,reddish\n"},
        ["yarns.csv", "yarn A", "colour", '"reddish"', "#rrggbb"],
    ),
    ({"yarns": "letter,colour\nA,1f3a5f\n"}, ["yarns.csv", "yarn A", '"1f3a5f"', "#1f3a5f"]),
    (
        {"yarns": "letter,feltable\nA,perhaps\n"},
        ["yarns.csv", "yarn A", "feltable", '"perhaps"', "yes or no"],
    ),
    (
        {"yarns": "letter,may_be_cut\nA,x\n"},
        ["yarns.csv", "yarn A", "may_be_cut", '"x"', "yes or no"],
    ),
    (
        {"yarns": "letter;metres_per_ball\nA;85,500\n"},
        ["yarns.csv", "yarn A", "metres_per_ball", '"85,500"', "not a number", '"85.500"'],
    ),
    (
        {"yarns": "letter,metres_per_ball\nA,100 ft\n"},
        ["yarns.csv", "yarn A", "metres_per_ball", '"100 ft"', "not a number"],
    ),
    (
        {"yarns": "letter,metres_per_ball\nA,0\n"},
        ["Yarn A", "metres_per_ball", "0", "leave it empty"],
    ),
    ({"yarns": "letter,metres_per_ball\nA,1e400\n"}, ["A", "metres_per_ball"]),
    ({"yarns": "letter,grams_per_ball\nA,-50\n"}, ["Yarn A", "grams_per_ball", "-50"]),
    ({"yarns": "letter,balls_in_hand\nA,-1\n"}, ["Yarn A", "balls_in_hand", "-1", "0 or more"]),
    (
        {"yarns": "letter,label_stitches_10cm\nA,nan\n"},
        ["yarns.csv", "label_stitches_10cm", '"nan"'],
    ),
    (
        {"yarns": "letter,superwash\nA,perhaps\n"},
        ["yarns.csv", "yarn A", "superwash", '"perhaps"', "yes or no"],
    ),
    (
        {"yarns": "letter,surface\nA,fluffy\n"},
        ["Yarn A", "surface", '"fluffy"', "smooth, hairy, slippery"],
    ),
    (
        {"yarns": "letter,grams_per_ball,part_balls_g\nA,50,half\n"},
        ["yarns.csv", "yarn A", "a part ball", '"half"', "not a number"],
    ),
    (
        {"yarns": 'letter,grams_per_ball,part_balls_g\nA,50,"34,500"\n'},
        ["yarns.csv", "yarn A", "a part ball", '"34,500"', '"34.500"'],
    ),
    (
        {"yarns": "letter,grams_per_ball,part_balls_g\nA,50,0\n"},
        ["Yarn A", "weight of a part ball", "0"],
    ),
    (
        {"yarns": "letter,part_balls_g\nA,34; 12\n"},
        ["Yarn A", "grams_per_ball is missing", "weight of a whole ball"],
    ),
    ({"yarns": "letter,name\nA,Köln\n".encode("latin-1")}, ["yarns.csv", "line 2", "UTF-8"]),
    ({"yarns": b"letter,name\nA,\0\n"}, ["yarns.csv", "not a text file"]),
    ({"yarns": "letter,name,name\nA,Rust,Sea\n"}, ["yarns.csv", "name"]),
    # the settings
    ({"piece": "name = Scarf\n"}, ["piece.toml", "line 1", "quotation marks"]),
    ({"piece": "[gauge]\nstitches = 22,5\n"}, ["piece.toml", "line 2", "decimal point"]),
    ({"piece": "[gauge\nstitches = 22\n"}, ["piece.toml", "line 1"]),
    ({"piece": "format = 2\n"}, ["piece.toml", "format 1"]),
    ({"piece": 'units = "ft"\n'}, ['"ft"', "cm or in"]),
    (
        {"piece": 'title = "Scarf"\n'},
        ["piece.toml", '"title"', "means nothing here", "name, units, needle"],
    ),
    ({"piece": "name = 5\n"}, ["name", "5"]),
    ({"piece": "gauge = 22\n"}, ["piece.toml", '"gauge"', "means nothing here"]),
    (
        {"piece": "[gauge]\nstitch = 22\n"},
        ["piece.toml", "gauge", '"stitch"', "means nothing here", "stitches, rows, over, unit"],
    ),
    (
        {"piece": '[gauge]\nstitches = "33 in 6, 34 over 6"\n'},
        ["gauge", '"33 in 6"', "stitches", '"33 over 6, 34.5 over 6"'],
    ),
    ({"piece": "[gauge]\nstitches = true\n"}, ["piece.toml", "gauge", "stitches", "True"]),
    ({"piece": "[gauge]\nstitches = [22]\n"}, ["stitches", "[22]"]),
    ({"piece": "[gauge]\nstitches = 0\n"}, ["stitches", "0", "more than 0", "swatch"]),
    ({"piece": "[gauge]\nrows = -30\n"}, ["rows", "-30", "more than 0"]),
    ({"piece": "[gauge]\nstitches = 0.00001\n"}, ["stitches"]),
    ({"piece": "[gauge]\nover = 0.00001\n"}, ["length the gauge is counted over"]),
    ({"piece": "[gauge]\nstitches = nan\n"}, ["stitches", "nan"]),
    ({"piece": '[gauge]\nunit = "inch"\n'}, ['"inch"', "cm or in"]),
    ({"piece": '[construction]\nworked = "round"\n'}, ["worked", '"round"', "rounds or turned"]),
    (
        {"piece": "[construction]\nworked = 1\n"},
        ["piece.toml", "construction", "worked", "1", "'flat'"],
    ),
    ({"piece": "[limits]\nsideways = -1\n"}, ["sideways", "-1", "0 (never) or more"]),
    ({"piece": '[limits]\nsideways = "2,500 cm"\n'}, ["sideways", "2,500", '"2.500"']),
    ({"piece": '[limits]\nsideways = "far"\n'}, ["sideways", '"far"', "2.5 cm"]),
    ({"piece": "[limits]\nmiddle_start = 1\n"}, ["piece.toml", "limits", "middle_start", "True"]),
    ({"piece": "[limits]\nby_yarn = 5\n"}, ["piece.toml", "by_yarn"]),
    ({"piece": "[limits.by_yarn]\nA = 5\n"}, ["piece.toml", "A"]),
    (
        {"piece": "[limits.by_yarn.A]\nacros = 1\n"},
        ["piece.toml", "limits of yarn A", '"acros"', "across, sideways"],
    ),
    ({"piece": "[allowances]\ntail_cm = -15\n"}, ["tail (cm)", "-15", "0 or more"]),
    ({"piece": '[allowances]\ntail_cm = "15"\n'}, ["piece.toml", "allowances", "tail_cm", "'15'"]),
    ({"piece": "[allowances]\ntail_cm = [15]\n"}, ["tail_cm", "[15]"]),
    ({"piece": "[allowances]\ntail_cm = inf\n"}, ["tail (cm)", "inf"]),
    ({"piece": "[allowances]\ntail_cm = 2024-01-01\n"}, ["tail_cm", "2024"]),
    ({"piece": "[allowances]\nlabel_error = 10\n"}, ["label_error", "10", "0.10 for 10 %"]),
    ({"piece": "[allowances]\nshort_once_in = inf\n"}, ["short once in", "inf"]),
    ({"piece": "[habits]\nballs_on_table = -1\n"}, ["balls on table", "-1", "0 or more"]),
    ({"piece": "[habits]\nballs_on_table = [4]\n"}, ["balls_on_table", "[4]"]),
    ({"piece": '[habits]\ntable = "no"\n'}, ["piece.toml", "habits", '"table"', "place"]),
    ({"piece": '[habits]\nboth_ends = "no"\n'}, ["piece.toml", "habits", "both_ends", "'no'"]),
    ({"piece": '[habits]\nplace = "beach"\n'}, ['"beach"', "one of table, sofa, train"]),
    ({"piece": "[habits]\nplace = false\n"}, ["piece.toml", "habits", "place", "False"]),
    (
        {"piece": '[habits]\nelsewhere = "in the train"\n'},
        ['"in the train"', "rows and the place", '"30-60 train"'],
    ),
    ({"piece": '[habits]\nelsewhere = "60-30 train"\n'}, ['"60-30 train"', "rows"]),
    ({"piece": '[habits]\nelsewhere = "0-30 train"\n'}, ['"0-30 train"', "rows"]),
    ({"piece": '[habits]\nelsewhere = "30-60 beach"\n'}, ['"beach"', "one of table"]),
    ({"piece": '[multiplier]\nway = "guess"\n'}, ['"guess"', "estimate", "own", "rule of three"]),
    ({"piece": '[multiplier]\nway = "own"\n'}, ["value is missing"]),
    ({"piece": '[multiplier]\nway = "own"\nvalue = "3.9"\n'}, ["3.9"]),
    ({"piece": '[multiplier]\nway = "own"\nvalue = 3.9\nspread = [1]\n'}, ["spread", "[1]"]),
    ({"piece": '[multiplier]\nway = "own"\nvalue = 0.9\n'}, ["0.9", "as short as the row is wide"]),
    ({"piece": '[multiplier]\nway = "own"\nvalue = inf\n'}, ["inf"]),
    ({"piece": b'name = "Sch\xf6n"\n'}, ["piece.toml", "line 1", "UTF-8"]),
    ({"piece": b'name = "a\0"\n'}, ["piece.toml", "cannot be read"]),
    # the choices
    ({"choices": "yarn,row,stitch,choice\nA,1,1,bobbin\n"}, ["choices.csv", 'no column "about"']),
    (
        {"choices": CHOICES + "supply,A,one,1,bobbin\n"},
        ["choices.csv", "A", "row", '"one"', "not a number"],
    ),
    (
        {"choices": CHOICES + "supply,A,0,1,bobbin\n"},
        ["choices.csv", "row and stitch", '"0"', "whole numbers from 1"],
    ),
    (
        {"choices": CHOICES + "supply,A,1.5,1,bobbin\n"},
        ["choices.csv", '"1.5"', "whole numbers from 1"],
    ),
    ({"choices": CHOICES + "supply,A,,1,bobbin\n"}, ["choices.csv", '""', "whole numbers from 1"]),
    (
        {"choices": CHOICES + "supply,B,1,1,hat\n"},
        ["B1", '"hat"', "loose strand, butterfly, bobbin, from the ball"],
    ),
]


@pytest.mark.parametrize(("files", "words"), WRONG, ids=[repr(files)[1:70] for files, _ in WRONG])
def test_wrong_files(tmp_path, files, words):
    """A message in words, no other error, and the folder as it was."""
    write(tmp_path, **files)
    before = contents(tmp_path)
    with pytest.raises(PlanError) as caught:
        make_plan(open_project(tmp_path))
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message
    assert contents(tmp_path) == before


def test_no_such_folder(tmp_path):
    with pytest.raises(PlanError, match=r"no folder .*nowhere.*piece\.toml and chart\.csv"):
        open_project(tmp_path / "nowhere")
    (tmp_path / "file").write_text("x")
    with pytest.raises(PlanError, match="no folder"):
        open_project(tmp_path / "file")


def test_a_folder_where_a_file_belongs(tmp_path):
    write(tmp_path, chart=None)
    (tmp_path / "chart.csv").mkdir()
    with pytest.raises(PlanError, match=r"chart\.csv cannot be read"):
        open_project(tmp_path)


def test_lines_are_counted_as_the_editor_counts_them(tmp_path):
    """Empty lines count, or the knitter looks in the wrong place."""
    write(tmp_path, chart="A,B\n\nA,B\nA\n")
    with pytest.raises(PlanError, match="line 4"):
        open_project(tmp_path)
    write(tmp_path, chart=GOOD["chart.csv"], yarns="letter,name\n\nA,Rust\nB,Sea,green\n")
    with pytest.raises(PlanError, match="line 4"):
        open_project(tmp_path)


def test_a_wrong_gauge_is_queried_not_refused(tmp_path):
    """A third from the band: 10 cm and 10 in mixed up.

    Just a finding; the plan is made all the same.
    """
    piece = '[gauge]\nstitches = 22\nrows = 30\nover = 10\nunit = "in"\n'
    found = make_plan(
        open_project(write(tmp_path, piece=piece, yarns="letter,label_stitches_10cm\nA,22\nB,11\n"))
    ).findings
    query = found[found.finding.str.contains("more than a third apart")]
    assert query["where"].tolist() == ["yarn A"]
    assert "counted over 10 cm" in query.what_to_do.iloc[0]


def test_letters_without_a_yarn_and_yarns_without_a_letter(tmp_path):
    """Both are findings with their place, not errors."""
    found = make_plan(open_project(write(tmp_path, yarns="letter\nA\nC\n"))).findings.query(
        "about == 'yarns'"
    )
    assert found.finding.str.contains("3 stitches of B, but no such yarn in yarns.csv").any()
    assert found.finding.str.contains("C is listed but not on the chart").any()
    assert found[found.row.notna()][["row", "stitch"]].to_numpy().tolist() == [[1, 1]]


def test_a_band_in_yards_keeps_its_words(tmp_path):
    """109 yd are 99.6696 m (a yard is 0.9144 m, by definition)."""
    yarns = "letter,name,metres_per_ball,grams_per_ball\nA,Rust,109 yd,50\nB,Sea,100 m,50\n"
    first = open_project(write(tmp_path, yarns=yarns))
    assert first.yarns["A"].metres_per_ball == pytest.approx(99.6696)
    assert first.yarns["B"].metres_per_ball == 100
    # Something else of the yarn is changed: the band stays as it was typed.
    changed = {**first.yarns, "A": replace(first.yarns["A"], name="Dune")}
    kept(first, yarns=changed)
    assert "A,Dune,,109 yd,50" in (tmp_path / "yarns.csv").read_text()
    again = open_project(tmp_path)
    assert again.yarns == changed
    # And then the band itself.
    longer = {**changed, "A": replace(changed["A"], metres_per_ball=120.0)}
    kept(again, yarns=longer)
    assert open_project(tmp_path).yarns == longer


# The demo


def test_the_demo_folder(demo_copy):
    """It opens, is kept with another gauge and as it was, and keeps its comments."""
    folder, piece = demo_copy, open_project(demo_copy)
    assert (piece.chart.columns >= 60, piece.chart.rows >= 80, len(piece.yarns) >= 4) == (
        True,
        True,
        True,
    )
    text = read_text(folder / "piece.toml")
    kept(kept(piece, gauge=Gauge(20, 28)), gauge=piece.gauge)
    assert open_project(folder) == piece
    assert [
        comment
        for comment in comments(text)
        if comment not in comments(read_text(folder / "piece.toml"))
    ] == []


def test_a_chart_alone_is_a_piece(tmp_path):
    """No piece.toml yet: the defaults and the folder's name; keeping writes one."""
    folder = tmp_path / "mitten-back"
    folder.mkdir()
    (folder / "chart.csv").write_text("A,B\nB,A\n")
    project = open_project(folder)
    assert (project.name, project.gauge) == ("mitten-back", Gauge())
    kept(project, gauge=Gauge(20, 28))
    assert open_project(folder).gauge == Gauge(20, 28)
    (folder / "chart.csv").unlink()
    (folder / "piece.toml").unlink()
    with pytest.raises(PlanError, match=r"neither chart\.csv nor piece\.toml"):
        open_project(folder)


def test_limits_for_a_yarn_that_is_not_there_are_noted(demo_copy):
    piece = demo_copy / "piece.toml"
    piece.write_text(piece.read_text().replace("by_yarn.N", "by_yarn.n"))
    assert any(
        "Yarn n has carry limits of its own but is not on the chart" in note
        for note in make_plan(open_project(demo_copy)).notes
    )
