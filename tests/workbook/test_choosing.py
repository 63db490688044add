"""The button to choose a file with."""

import pytest

from planner.workbook.choosing import FileChoice


def sent(choice, content, *buffers):
    """A message as the browser sends it."""
    choice._handle_custom_msg(content, [memoryview(data) for data in buffers])


def test_a_file_goes_on_with_its_name_and_the_button_is_answered(monkeypatch):
    taken, answers = [], []
    choice = FileChoice("Choose a file", ".csv", lambda *file: taken.append(file))
    monkeypatch.setattr(choice, "send", answers.append)
    sent(choice, {"name": "a.csv"}, b"A,B\n")
    assert taken == [("a.csv", b"A,B\n")]
    assert answers == [{"read": "a.csv"}]


def test_the_button_is_answered_whatever_happens(monkeypatch):
    answers = []

    def fail(name, data):
        raise RuntimeError

    choice = FileChoice("Choose a file", ".csv", fail)
    monkeypatch.setattr(choice, "send", answers.append)
    with pytest.raises(RuntimeError):
        choice._chosen(choice, {"name": "a.csv"}, [b""])
    assert answers == [{"read": "a.csv"}]


@pytest.mark.parametrize("message", [({}, b"A"), ({"name": "a.csv"},), ({"other": 1}, b"A", b"B")])
def test_a_message_without_a_file_is_nobodys_choice(message):
    taken = []
    sent(FileChoice("Choose a file", ".csv", lambda *file: taken.append(file)), *message)
    assert taken == []
