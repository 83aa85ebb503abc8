"""What subcommands print: tables no wider than the terminal, JSON that parses, and no text that a terminal obeys."""

import json

import pytest

from api.cli import output
from api.cli.output import Column

HOSTILE = "\x1b[2J\x1b]0;x\x07[red]a[/red] \u202egnp.exe" + "Wm" * 100
COLUMNS = [
    Column("Car", "name"),
    Column("By", "window.likely", keep=True),
    Column("Driven", "yearly", right=True, keep=True),
    Column("Safety", "safety"),
]
FOUND = [
    {"name": "the green van", "window": {"likely": "2026-11-10"}, "yearly": {"value": 5200.4, "unit": "km"}, "safety": True},
    {"name": HOSTILE, "window": None, "yearly": None, "safety": False},
]  # fmt: skip


@pytest.mark.parametrize("width", [40, 80, 200])
def test_no_line_is_wider_than_the_terminal(capsys, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    assert output.rows(FOUND, COLUMNS, as_json=False) == 2
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) <= width
    assert "2026-11-10" in shown
    assert "5,200 km" in shown
    assert "–" in shown


def test_text_of_others_moves_no_cursor_and_turns_no_line_around(capsys):
    output.rows(FOUND, COLUMNS, as_json=False)
    output.record(FOUND[1], COLUMNS, as_json=False)
    output.lines(HOSTILE)
    output.note(HOSTILE)
    told = capsys.readouterr()
    for shown in (told.out, told.err):
        assert not {"\x1b", "\x07", "\u202e"} & set(shown)
        assert "[red]a[/red]" in shown.replace("\n", "")


def test_json_is_one_array_with_every_field_and_the_text_as_it_is(capsys):
    output.rows(iter(FOUND), COLUMNS, as_json=True)
    assert json.loads(capsys.readouterr().out) == FOUND
    output.rows([], COLUMNS, as_json=True)
    assert json.loads(capsys.readouterr().out) == []


def test_an_empty_list_is_said(capsys):
    output.rows([], COLUMNS, as_json=False, none="no car is registered yet")
    assert capsys.readouterr().out == "no car is registered yet\n"
