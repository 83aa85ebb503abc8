"""The demo on the real service: it ends with dated, reasoned work, and leaves nothing running behind it."""

from __future__ import annotations

import asyncio
import io
import json
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import httpx
import pytest
from rich.console import Console

from api.demo import run as demo
from api.demo.child import free_port
from api.demo.failure import DemoError
from api.demo.records import FleetRecords
from api.demo.service import Service
from api.shipped import shipped

SLICE = ("QD03", "QD13")
"""A dial that rolls over, and the car whose schedule is printed."""


@dataclass
class Ran:
    code: int
    text: str
    folder: Path


def run_demo(folder: Path, cars=SLICE) -> Ran:
    paper = io.StringIO()
    code = demo.run(folder, cars=cars, console=Console(file=paper, width=80))
    return Ran(code, paper.getvalue(), folder)


def test_for_programs_it_ends_with_one_document(tmp_path, capsys):
    assert demo.run(tmp_path / "d", cars=["QD21"], as_json=True) == 0
    told = capsys.readouterr()
    found = json.loads(told.out)
    assert found["folder"] == str(tmp_path / "d")
    assert found["address"].startswith("http://127.0.0.1:")
    assert (found["counts"]["cars"], found["counts"]["due"]) == (1, len(found["due"]))
    assert found["counts"]["due_now"] == sum(one["status"] == "due now" for one in found["due"]) > 0
    assert "Due in the fleet within" in told.err
    assert "An open complaint: Tiberius overheats in traffic" in told.err
    assert re.search(r"- radiator: about [\w ]+\. Book alone", told.err)
    assert re.search(r"The digest of week \d{4}-W\d\d is there", " ".join(told.err.split()))


def nobody_answers(text: str) -> bool:
    address = re.search(r"http://127\.0\.0\.1:(?!8000)\d+", text)
    assert address is not None
    try:
        httpx.get(address.group() + "/healthz", timeout=2.0)
    except httpx.TransportError:
        return True
    return False


@pytest.fixture(scope="module")
def ran(tmp_path_factory) -> Ran:
    home = tmp_path_factory.mktemp("demo")
    before = Path.cwd()
    os.chdir(home)
    try:
        return run_demo(Path(".demo"))
    finally:
        os.chdir(before)


@pytest.fixture(scope="module")
def folder(ran, tmp_path_factory) -> Path:
    return next(tmp_path_factory.getbasetemp().glob("demo*/.demo"))


@pytest.fixture
def few_parts(monkeypatch):
    """Only two part kinds of each car: enough where it is not the answers that are looked at."""
    load = FleetRecords.load

    def thin(path):
        records = load(path)
        parts = tuple(p for p in records.fitments if p["kind"] in {"battery", "brake_fluid"})
        kept = {part["external_ref"] for part in parts}
        rest = ("inspections", "repairs", "removals")
        lines = {name: tuple(x for x in getattr(records, name) if x["fitment"] in kept) for name in rest}
        return replace(records, fitments=parts, **lines)

    monkeypatch.setattr(FleetRecords, "load", thin)


def test_it_succeeds_and_says_what_it_did(ran):
    assert ran.code == 0, ran.text
    records = FleetRecords.load(shipped("seed_data")).of_cars(SLICE)
    assert f"{len(records)} of {len(records)} records sent" in ran.text
    assert "does not exist" in ran.text
    assert "part kinds fitted" in ran.text


def test_it_ends_with_dated_and_reasoned_work(ran):
    due, schedule = ran.text.split("Margery, Harrowdune Oxbow estate, built 1982")
    assert re.search(r"(Ottoline|Margery) +\S.* +(now|\w{3} 20\d\d)", due)
    assert re.search(r"\d in \d", due)
    assert re.search(r"[a-z)]: (now|\w{3} 20\d\d( to \w{3} 20\d\d)?)", schedule)
    assert "Since fitting: about" in schedule
    assert "Chance of failing by" in schedule
    assert re.search(r"Evidence: .*(histories of this fleet|history of this fleet|All book)", schedule)
    assert "never postpone a" in schedule


def test_it_tells_the_wrong_guesses_and_what_they_count_as(ran):
    told = ran.text.split("papers say of wrong guesses")[1]
    assert "Boils in the station queue" in told
    assert "thermostat, on suspicion, not cured" in told
    assert "Counted as still good that day, not as failed" in told


def test_no_line_is_wider_than_80_columns(ran):
    assert [line for line in ran.text.splitlines() if len(line.rstrip()) > 80] == []


def test_the_service_has_stopped(ran):
    assert nobody_answers(ran.text)


def test_its_log_shows_no_failure(folder):
    log = (folder / "service.log").read_text("utf-8")
    assert "Traceback" not in log
    assert "status=5" not in log
    assert "status=201" in log


def test_the_key_is_its_owner_s_alone_and_opens_the_fleet_again(folder):
    key = folder / "key.txt"
    assert key.stat().st_mode & 0o077 == 0
    with Service(folder / demo.DATABASE, folder / "again.log") as service:
        header = {"Authorization": f"Bearer {key.read_text().strip()}"}
        cars = httpx.get(f"{service.address}/v1/vehicles", headers=header).json()["items"]
    assert [car["external_ref"] for car in cars] == list(SLICE)


def test_a_second_run_builds_the_same_folder_anew_whatever_stands_in_the_environment(
    tmp_path, few_parts, monkeypatch
):
    for name, value in {
        "HTTP_PROXY": "http://127.0.0.1:9",
        "ALL_PROXY": "http://127.0.0.1:9",
        "WEARWRIGHT_JOBS": "false",
        "WEARWRIGHT_DATABASE_URL": f"sqlite:///{tmp_path}/mine.db",
    }.items():
        monkeypatch.setenv(name, value)
    first, second = run_demo(tmp_path / "d", ["QD08"]), run_demo(tmp_path / "d", ["QD12"])
    assert (first.code, second.code) == (0, 0), first.text + second.text
    assert not (tmp_path / "mine.db").exists()
    with sqlite3.connect(tmp_path / "d" / demo.DATABASE) as database:
        assert database.execute("SELECT external_ref FROM vehicle").fetchall() == [("QD12",)]


def test_a_folder_that_is_not_its_own_is_left_alone(tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    ran = run_demo(tmp_path)
    assert ran.code == 1
    assert "was not made by the demo" in ran.text
    assert (tmp_path / "thesis.txt").read_text() == "years of work"


def test_a_folder_that_is_being_served_is_left_alone(tmp_path):
    folder = tmp_path / "d"
    key = demo.prepare(folder)
    with Service(folder / demo.DATABASE, folder / "service.log"):
        ran = run_demo(folder)
    assert ran.code == 1
    assert "stop that service first" in ran.text
    assert (folder / "key.txt").read_text().strip() == key


def test_a_refusal_ends_it_with_the_field_and_no_service_left(tmp_path, monkeypatch):
    load = FleetRecords.load

    def broken(path):
        records = load(path).of_cars(["QD12"])
        first, *rest = records.fitments
        return replace(records, fitments=(first | {"kind": "flux_capacitor"}, *rest))

    monkeypatch.setattr(FleetRecords, "load", broken)
    ran = run_demo(tmp_path / "d", cars=None)
    assert ran.code == 1
    assert "The demo failed:" in ran.text
    assert "flux_capacitor" in ran.text
    assert nobody_answers(ran.text)


def test_a_service_that_cannot_start_is_reported_with_its_last_words(tmp_path):
    with (
        pytest.raises(DemoError, match="did not start"),
        Service(tmp_path / "no" / "such.db", tmp_path / "log"),
    ):
        pass


def test_answers_do_not_wait_for_acknowledgements():
    async def nodelay_of_an_accepted_connection() -> int:
        seen = asyncio.get_running_loop().create_future()

        class Look(asyncio.Protocol):
            def connection_made(self, transport):
                accepted = transport.get_extra_info("socket")
                seen.set_result(accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
                transport.close()

        listening = free_port()
        server = await asyncio.get_running_loop().create_server(Look, sock=listening)
        _, writer = await asyncio.open_connection(*listening.getsockname())
        try:
            return await seen
        finally:
            writer.close()
            server.close()

    assert asyncio.run(nodelay_of_an_accepted_connection()) != 0


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_stops_it_and_the_service(tmp_path):
    command = [sys.executable, "-c", "from api.cli import main; main()", "demo"]
    child = subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    said = ""
    while "service answers" not in said:
        line = child.stdout.readline()
        assert line, child.stderr.read()
        said += line
    time.sleep(1.0)
    child.send_signal(signal.SIGINT)
    rest, errors = child.communicate(timeout=60)
    assert child.returncode == 130, errors
    assert "Stopped" in rest
    assert "Traceback" not in errors
    assert nobody_answers(said)


@pytest.mark.full
@pytest.mark.timeout(900)
def test_the_whole_fleet_goes_through(tmp_path):
    start = time.monotonic()
    ran = run_demo(tmp_path / "d", cars=None)
    print(f"the whole demo took {time.monotonic() - start:.0f} s")
    assert ran.code == 0, ran.text
    assert "24 cars of a hire firm" in ran.text
    assert "Not fitted" not in ran.text
    assert re.search(r"\d+ parts, \d+ of them now", ran.text)
