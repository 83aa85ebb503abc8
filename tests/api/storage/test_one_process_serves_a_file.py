"""A SQLite file is served by one process; a second one is refused in words, and the right passes on at its end."""

import pytest

from api.storage import dialect
from api.storage.engine import Database
from tests.api.support import command


def test_a_second_holder_is_refused_until_the_first_lets_go(tmp_path):
    url = Database(f"sqlite:///{tmp_path / 'a.db'}").url
    with dialect.only_process(url):
        with (
            pytest.raises(dialect.AlreadyServedError, match="served by another process"),
            dialect.only_process(url),
        ):
            pass
        other = Database(f"sqlite:///{tmp_path / 'b.db'}").url
        with dialect.only_process(other):
            pass
    with dialect.only_process(url):
        pass


def test_the_command_says_so_and_keys_can_still_be_made(tmp_path):
    url = f"sqlite:///{tmp_path / 'a.db'}"
    with dialect.only_process(Database(url).url):
        second = command("serve", "--port", "0", "--database-url", url)
        made = command("keys", "create", "--fleet", "A", "--database-url", url)
    assert second.returncode == 1
    assert "served by another process" in second.stderr
    assert "Traceback" not in second.stderr
    assert made.returncode == 0
    assert made.stdout.startswith("ww_")


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///:memory:", "mysql://x/y", "oracle://x"])
def test_other_databases_are_refused(url):
    with pytest.raises(ValueError, match="wanted sqlite:///FILE or postgresql"):
        Database(url)
