"""Choices as they were taken: those that were taken together are together, with their words."""

from planner.folder import choices_as_taken

HEAD = "date,about,yarn,row,stitch,part,choice,strand_then\n"
STAR = "2026-01-01,embroider,Y,{row},3,whole,{choice},{words}\n"


def as_taken(tmp_path, *lines):
    """What is read from these lines, each a row, a choice and the words: rows by their words."""
    file = tmp_path / "choices.csv"
    rows = [STAR.format(row=row, choice=choice, words=words) for row, choice, words in lines]
    file.write_text(HEAD + "".join(rows), encoding="utf-8")
    return [(words, [choice.row for choice in taken]) for words, taken in choices_as_taken(file)]


def test_lines_under_the_same_words_belong_together(tmp_path):
    lines = (1, "by itself", "stars"), (2, "by itself", "stars"), (3, "by itself", "a window")
    assert as_taken(tmp_path, *lines) == [("stars", [1, 2]), ("a window", [3])]


def test_the_same_words_at_another_time_are_something_else(tmp_path):
    lines = (1, "by itself", "stars"), (3, "by itself", "a window"), (2, "by itself", "stars")
    assert as_taken(tmp_path, *lines) == [("stars", [1]), ("a window", [3]), ("stars", [2])]


def test_without_words_each_stands_alone(tmp_path):
    lines = (1, "by itself", ""), (2, "by itself", "")
    assert as_taken(tmp_path, *lines) == [("", [1]), ("", [2])]


def test_what_was_taken_back_is_left_out(tmp_path):
    lines = (1, "by itself", "stars"), (2, "by itself", "stars"), (1, "", "taken back")
    assert as_taken(tmp_path, *lines) == [("stars", [2])]


def test_what_was_decided_anew_belongs_to_its_last_line(tmp_path):
    lines = (1, "by itself", "stars"), (2, "by itself", "stars"), (1, "refused", "one star")
    assert as_taken(tmp_path, *lines) == [("stars", [2]), ("one star", [1])]


def test_there_need_be_no_file(tmp_path):
    assert choices_as_taken(tmp_path / "choices.csv") == []
