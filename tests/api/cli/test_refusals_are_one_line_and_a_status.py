"""Exit status: 0 done, 1 refused or failed, 2 not understood; one line on standard error says why."""

import json
from typing import get_args

import pytest

from api.cli import files
from api.imports import fields
from tests.api.support import command


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["nope"], 2, "No such command 'nope'"),
        (["keys", "create"], 2, "Missing option '--fleet'. (see wearwright keys create --help)"),
        (["serve", "--port", "70000"], 2, "Invalid value for '--port'"),
        (["migrate", "--database-url", "mysql://x/y"], 1, "wanted sqlite:///FILE or postgresql://"),
        (["keys", "create", "--fleet", "a", "--scope", "owner"], 2, "scope"),
        (["serve", "--database-url", "sqlite:///nowhere/a.db"], 1, "unable to open database file"),
        (["migrate", "--database-url", "sqlite:///letter.txt"], 1, "file is not a database"),
    ],
)
def test_what_is_refused_is_one_line(tmp_path, arguments, status, said):
    (tmp_path / "letter.txt").write_text("Dear reader, " * 100)
    refused = command(*arguments, cwd=tmp_path)
    assert (refused.returncode, refused.stdout) == (status, "")
    assert said in refused.stderr
    assert refused.stderr.startswith("wearwright: ")
    assert refused.stderr.count("\n") == 1


def test_without_a_subcommand_the_help_is_shown():
    asked = command()
    assert asked.returncode == 2
    assert "Usage: wearwright" in asked.stdout + asked.stderr


def test_the_version_is_told_in_words_and_as_json():
    from importlib import metadata

    assert command("version").stdout == f"wearwright {metadata.version('wearwright')}\n"
    assert json.loads(command("version", "--json").stdout) == {"version": metadata.version("wearwright")}


def test_files_are_of_the_kinds_that_imports_know():
    """Written twice: the import rooms take a fifth of a second to load, and every subcommand would wait for them."""
    assert get_args(get_args(files.RecordKind)[0]) == get_args(fields.RecordKind)
