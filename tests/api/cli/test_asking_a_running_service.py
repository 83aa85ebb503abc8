"""Subcommands that ask a running service: the same answers as the JSON service, as tables and as JSON."""

import json
import logging
import os
import subprocess
from pathlib import Path

import httpx
import pytest

from api import logs, serving
from api.cli import application
from tests.api.faults.cases import opened
from tests.api.history.making import car, fitment, odometer
from tests.api.support import command

HOSTILE = "\x1b[2J<script>alert(1)</script> \u202eenots"


@pytest.fixture
def here(monkeypatch, capsys):
    """Run a subcommand in this process: it starts at once."""
    monkeypatch.setenv("COLUMNS", "100")
    capsys.readouterr()

    def run(*arguments):
        monkeypatch.setattr("sys.argv", ["wearwright", *arguments])
        with pytest.raises(SystemExit) as ended:
            application.main()
        told = capsys.readouterr()
        own = [
            line for line in told.err.splitlines(keepends=True) if not line.startswith("{")
        ]  # not the service's log
        return subprocess.CompletedProcess(arguments, ended.value.code, told.out, "".join(own))

    yield run
    with capsys.disabled():  # the log goes on to where it went before
        logs.configure("warning", as_json=True)


@pytest.fixture
def ask(here, service, fleet, tmp_path, monkeypatch):
    """Run a subcommand with the fleet's key in a file."""
    key = tmp_path / "key.txt"
    key.write_text(fleet.keys["write"] + "\n")
    monkeypatch.setenv("WEARWRIGHT_URL", service.base_url)
    return lambda *arguments: here(*arguments, "--key-file", str(key))


@pytest.fixture
def vehicle(client):
    found = car(client, name="Ida")
    odometer(client, found, "2024-09-01", 70_000)
    fitment(client, found, "brake_hose", "2010-09-01", position="front left")
    return found


@pytest.mark.parametrize(
    ("arguments", "address", "key"),
    [
        (["cars"], "/v1/vehicles", "id"),
        (["due", "--within-days", "90"], "/v1/due-soon?within_days=90", "fitment_id"),
        (["due", "--car", "Ida", "--as-of", "2026-01-01"], "/v1/due-soon?as_of=2026-01-01", "fitment_id"),
    ],
)
def test_lists_are_the_services_own(ask, client, vehicle, arguments, address, key):
    told = ask(*arguments, "--json")
    assert (told.returncode, told.stderr) == (0, "")
    wanted = client.get(address).json()["items"]
    assert wanted
    assert [one[key] for one in json.loads(told.stdout)] == [one[key] for one in wanted]
    shown = ask(*arguments)
    assert shown.returncode == 0
    assert "Ida" in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 100


@pytest.mark.parametrize(
    ("arguments", "address", "said"),
    [
        (["schedule", "Ida"], "/v1/vehicles/{car}/schedule", "flexible brake hose, front left: Due"),
        (["risk", "Ida"], "/v1/vehicles/{car}/risk", "no inspection"),
        (["orders"], "/v1/parts-to-order", "flexible brake hose"),
        (["life", "rotor_arm"], "/v1/part-kinds/rotor_arm/life", "All book"),
    ],
)
def test_single_answers_are_the_services_own(ask, client, vehicle, arguments, address, said):
    told = ask(*arguments, "--json")
    assert (told.returncode, told.stderr) == (0, "")
    assert json.loads(told.stdout) == client.get(address.format(car=vehicle)).json()
    shown = ask(*arguments)
    assert said in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 100


def test_a_digest_is_made_shown_and_sent(ask, client, vehicle):
    assert ask("digest", "list").stdout.startswith("no digest")
    made = ask("digest", "make")
    assert made.returncode == 0, made.stderr
    assert "Due for longer (1)" in made.stdout
    week = client.get("/v1/digests").json()["items"][0]["week"]
    assert (
        json.loads(ask("digest", "show", week, "--json").stdout) == client.get(f"/v1/digests/{week}").json()
    )
    added = json.loads(ask("digest", "subscribe", "keeper@garage.example", "--hour", "7", "--json").stdout)
    listed = ask("digest", "addresses").stdout
    assert "keeper@garage.example" in listed
    assert "No mail server is set" in " ".join(listed.split())
    assert ask("digest", "unsubscribe", added["id"]).returncode == 0
    assert client.get("/v1/digest-subscriptions").json()["items"] == []


def test_what_nobody_should_drive_comes_before_any_table(ask, client, vehicle):
    opened(client, vehicle, complaint="sinking_pedal")
    for words in (
        ["cars"],
        ["due"],
        ["due", "--car", "Ida"],
        ["schedule", "Ida"],
        ["risk", "Ida"],
        ["digest", "make"],
    ):
        shown = ask(*words).stdout
        assert "Do not drive Ida: " in "\n".join(shown.splitlines()[:2]), words
    beside = ask("cars", "--json")
    assert [one["name"] for one in json.loads(beside.stdout)] == ["Ida"]
    assert beside.stderr.startswith("Do not drive Ida: ")


def test_long_work_is_waited_for_and_a_failure_is_status_1(ask, client, vehicle):
    done = ask("refit", "brake_hose", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["kind"] == "brake_hose"
    (job, *_) = json.loads(ask("jobs", "--json").stdout)
    assert json.loads(ask("job", job["id"], "--wait", "--json").stdout)["state"] == "succeeded"
    client.put("/v1/part-kinds/brake_hose/settings", json={"prior": "none"})
    refused = ask("refit", "brake_hose")
    assert refused.returncode == 1, refused.stdout
    assert refused.stderr.startswith("wearwright: the job failed: ")
    assert refused.stderr.count("\n") == 1


def test_what_the_service_refuses_is_one_line(ask, client, vehicle):
    car(client, name="Ida")
    for arguments, said in (
        (["schedule", "Nobody"], "no car is called 'Nobody'"),
        (["schedule", "Ida"], "2 cars have this name"),
        (["life", "flux_capacitor"], "404"),
        (["digest", "show", "2001-W01"], "404"),
        (["job", "none"], "404"),
    ):
        refused = ask(*arguments)
        assert (refused.returncode, refused.stdout) == (1, ""), arguments
        assert said in refused.stderr
        assert refused.stderr.count("\n") == 1


def test_words_that_are_no_such_thing_are_status_2_and_what_files_refuse_has_no_number(ask, client, tmp_path):
    file = tmp_path / "cars.jsonl"
    file.write_text('{"external_ref": "A", "distance_unit": "mi", "name": "A\\nB", "built": "19\\n98"}\n')
    for arguments, status, said in (
        (["import", str(file), "--kind", "cars"], 2, "'cars' is not one of"),
        (["import", str(file), "--kind", "vehicles", "--map", "x"], 2, "COLUMN=VALUE"),
        (["export", "x.csv", "--kind", "cars"], 2, "'cars' is not one of"),
        (["digest", "show", "nope"], 2, "an ISO 8601 week such as 2026-W48, got 'nope'"),
        (["digest", "subscribe", "nobody"], 2, "address: wanted"),
        (["schedule", "Ida", "--years", "60"], 2, "--years"),
        (["cars", "--url", "here"], 2, "--url: wanted http://"),
        (
            ["export", str(tmp_path / "no" / "x.csv"), "--kind", "vehicles"],
            1,
            "x.csv: No such file or directory",
        ),
    ):
        refused = ask(*arguments)
        assert (refused.returncode, refused.stdout) == (status, ""), refused
        assert said in refused.stderr
        assert "Errno" not in refused.stderr
        assert refused.stderr.count("\n") == 1
    bad = ask("import", str(file), "--kind", "vehicles")
    assert bad.returncode == 1
    assert bad.stderr.splitlines()[0].startswith("row 1: built: wanted ")
    assert bad.stderr.count("\n") == 2


def test_what_runs_until_it_is_stopped_logs_for_programs_where_asked(here, tmp_path, monkeypatch):
    monkeypatch.setenv("WEARWRIGHT_LOG_JSON", "false")
    log = logging.getLogger("api.trial")
    monkeypatch.setattr(serving, "work", lambda _settings: log.warning("working"))
    monkeypatch.setattr(
        serving, "serve", lambda _settings, _host, _port, say: (say("serving on x"), log.warning("up"))
    )
    for words, said in ((["serve"], "serving on x"), (["worker"], "working")):
        assert said in here(*words).stderr
        told = here(*words, "--json")
        assert (told.returncode, told.stdout) == (0, "")
        assert told.stderr == ""  # `here` leaves lines of JSON out


def test_keys_of_a_database_that_was_never_migrated(here, tmp_path):
    url = f"sqlite:///{tmp_path / 'new.db'}"
    for arguments in (["list"], ["revoke", "x"], ["rotate", "x"]):
        refused = here("keys", *arguments, "--database-url", url)
        assert (refused.returncode, refused.stdout, refused.stderr.count("\n")) == (1, "", 1)
        assert "run `wearwright migrate` first" in refused.stderr


def test_names_move_no_cursor(ask, client):
    car(client, name=HOSTILE)
    shown = ask("cars").stdout
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "<script>" in shown


def test_without_a_key_or_a_service_it_says_so(ask, here, monkeypatch, tmp_path):
    monkeypatch.delenv("WEARWRIGHT_KEY", raising=False)
    none = here("cars")
    assert (none.returncode, "wanted a key" in none.stderr) == (1, True)
    gone = ask("cars", "--url", "http://127.0.0.1:9")
    assert (gone.returncode, "cannot be reached" in gone.stderr, gone.stderr.count("\n")) == (1, True, 1)
    lost = here("cars", "--key-file", str(tmp_path / "nowhere"))
    assert (lost.returncode, "nowhere cannot be read" in lost.stderr) == (1, True)


def test_in_a_process_of_its_own_it_writes_no_more_than_the_answer(service, fleet, vehicle, tmp_path):
    environment = {
        **os.environ,
        "WEARWRIGHT_URL": service.base_url,
        "WEARWRIGHT_KEY": fleet.keys["read"],
        "PYTHONPATH": str(Path(__file__).parents[3]),
    }
    told = command("cars", "--json", env=environment, cwd=tmp_path)
    assert (told.returncode, told.stderr) == (0, "")
    assert [one["id"] for one in json.loads(told.stdout)] == [vehicle]


def test_keys_are_listed_changed_for_new_ones_and_revoked(here, service, fleet):
    url = service.app.state.settings.database_url.get_secret_value()

    def opens(key):
        headers = {"Authorization": f"Bearer {key}"}
        return httpx.get(f"{service.base_url}/v1/vehicles", headers=headers).status_code

    def keys(*arguments):
        return here("keys", *arguments, "--database-url", url)

    old = fleet.keys["read"]
    prefix = old.split("_")[1]
    made = keys("rotate", prefix)
    assert made.returncode == 0, made.stderr
    new = made.stdout.strip()
    assert (opens(old), opens(new)) == (401, 200)
    listed = json.loads(keys("list", "--json").stdout)
    mine = {one["prefix"]: one for one in listed}
    assert mine[prefix]["revoked_at"] is not None
    assert mine[new.split("_")[1]]["scope"] == "read"
    assert old.rpartition("_")[2] not in str(listed)
    assert keys("revoke", mine[new.split("_")[1]]["id"]).returncode == 0
    assert opens(new) == 401
    for arguments, said in ((["revoke", prefix], "revoked already"), (["rotate", "nobody"], "no key has that id"), (["list", "--fleet", "x"], "no fleet is called")):  # fmt: skip
        refused = keys(*arguments)
        assert (refused.returncode, said in refused.stderr, refused.stderr.count("\n")) == (1, True, 1)


@pytest.mark.parametrize(
    "path",
    [(), ("keys",), ("keys", "rotate"), ("digest",), ("digest", "make"), ("due",), ("schedule",), ("refit",), ("job",), ("demo",)],
)  # fmt: skip
def test_every_subcommand_has_help(here, path):
    told = here(*path, "--help")
    assert (told.returncode, told.stderr) == (0, "")
    assert "Usage: wearwright" in told.stdout
