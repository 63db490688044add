"""Numbers that count rows and stitches, and numbers that are stitches themselves."""

from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import asked, rows_of, workbook, write_letters


def test_digits_with_rulers_at_both_sides_and_every_fifth_stitch():
    digits = [
        "1112111",
        "1122211",
        "1222221",
        "3322233",
        "3332333",
        "1111111",
        "2222222",
        "1313131",
    ]

    def draw(book, sheet):
        for i, row in enumerate(digits):
            number = len(digits) - i
            sheet.write(i, 0 if number % 2 == 0 else 8, number)
            for j, digit in enumerate(row):
                sheet.write(i, j + 1, int(digit))
        for stitch in (2, 4, 6):
            sheet.write(len(digits), 8 - stitch, stitch)

    read = read_sheet(workbook(draw), "digits.xlsx")
    assert rows_of(read) == [
        "".join({"1": "A", "2": "B", "3": "C"}[digit] for digit in row) for row in digits
    ]
    assert "Column A and column I and row 9 hold numbers and were left out." in read.notes


def test_rulers_of_another_chart_say_nothing_of_the_one_that_was_named():
    def draw(book, sheet):
        write_letters(sheet, ["AB", "BA", "AA"], left=1)
        sheet.write_column("A1", [1, 2, 3])
        write_letters(sheet, ["CD", "DC", "CC"], left=20)

    read = read_sheet(workbook(draw), "two.xlsx", area="U1:V3")
    assert rows_of(read) == ["CD", "DC", "CC"]
    assert asked(read) == {"row_1": "bottom"}


def test_numbers_that_leave_nothing_beside_them_are_the_stitches():
    read = read_sheet(b"1,1,1\n2,2,2\n3,3,3\n", "stripes.csv")
    assert rows_of(read) == ["AAA", "BBB", "CCC"]
