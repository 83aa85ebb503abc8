"""The demo from start to end: a folder of its own, the service, the fleet, the fits, the answers, a clean stop."""

from __future__ import annotations

import json
import shlex
import shutil
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import httpx

from api import serving
from api.client import ProblemError, WearwrightClient
from api.demo import output
from api.demo.failure import DemoError
from api.demo.progress import Teller
from api.demo.records import CURRENCY, FLEET_NAME, TIME_ZONE, FleetRecords
from api.demo.sending import make_digest, open_cases, refit, register
from api.demo.service import Service
from api.refused import RefusedError
from api.settings import Settings
from api.shipped import shipped
from api.storage import dialect
from api.storage.engine import Database

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from rich.console import Console

    from api.client import Json
    from api.demo.sending import Refit

DEFAULT_FOLDER = Path(".demo")
SHOWN_CAR = "QD13"
WITHIN_DAYS = 60
DATABASE = "wearwright.db"
_MARK = "made-by-the-wearwright-demo"


def run(
    folder: Path = DEFAULT_FOLDER,
    *,
    cars: Collection[str] | None = None,
    console: Console | None = None,
    as_json: bool = False,
) -> int:
    """Run the demo; returns the exit code: 0 done, 1 failed, 130 stopped by the user.

    Safe to run twice: each run empties its own folder and builds it anew; it refuses a folder that it did not make.

    Args:
        folder: where the database, the key and the service's log go.
        cars: external_ref of the cars to take; None takes all 24.
        console: where to print; None is standard output, at most 80 columns wide.
        as_json: print one JSON document at the end on standard output, and all else on standard error.
    """
    screen = console or output.console(beside=as_json)
    try:
        found = _run(folder, cars, screen)
    except KeyboardInterrupt:
        screen.print("\nStopped, and the service with it.")
        return 130
    except (DemoError, RefusedError, ProblemError, httpx.HTTPError, OSError, TimeoutError) as error:
        screen.print(f"\nThe demo failed: {error}", style="bold", markup=False, highlight=False)
        return 1
    if as_json:
        sys.stdout.write(json.dumps(found, indent=2, ensure_ascii=False) + "\n")
    return 0


def _run(folder: Path, cars: Collection[str] | None, screen: Console) -> Json:
    """Do it all; what came of it."""
    records = FleetRecords.load(shipped("seed_data"))
    if cars is not None:
        records = records.of_cars(cars)
    as_of = date.fromisoformat(records.last_day())
    output.opening(screen, records, folder)
    key = prepare(folder)
    with (
        Teller(screen) as tell,
        Service(folder / DATABASE, folder / "service.log") as service,
        WearwrightClient(service.address, key, proxies=False) as client,
    ):
        tell.note(f"service answers at {service.address}")
        ids = register(client, records, tell.progress)
        refits = refit(client, records.kinds_with_evidence(), tell.progress)
        tell.done()
        output.fits(screen, refits)
        due = list(client.fleet_due_soon(as_of=as_of, within_days=WITHIN_DAYS))
        output.due_soon(screen, due, as_of, WITHIN_DAYS)
        shown = SHOWN_CAR if SHOWN_CAR in ids.vehicles else next(iter(ids.vehicles))
        car = client.vehicle(ids.vehicles[shown]).body
        output.schedule(screen, car, client.schedule(car["id"], as_of=as_of), as_of)
        wrong = [(line, client.life(kind)) for kind, line in records.removals_without_cure(shown)]
        output.lessons(screen, car, wrong)
        for case, step in open_cases(client, records, ids):
            output.open_case(screen, client.vehicle(case["vehicle_id"]).body, case, step)
        week = make_digest(client)
    output.how_to_go_on(screen, folder, own_command(), week)
    told = {"folder": str(folder), "address": service.address, "as_of": as_of.isoformat()}
    return {**told, "within_days": WITHIN_DAYS, "counts": _counts(records, refits, due), "due": due}


def _counts(records: FleetRecords, refits: Sequence[Refit], due: Sequence[Json]) -> Json:
    return {
        "cars": len(records.vehicles),
        "parts": len(records.fitments),
        "records": len(records),
        "kinds_fitted": sum(refit.went_well for refit in refits),
        "kinds_not_fitted": sum(not refit.went_well for refit in refits),
        "due": len(due),
        "due_now": sum(item["status"] == "due now" for item in due),
    }


def prepare(folder: Path) -> str:
    """Empty the demo's folder, bring up a new database in it and make the fleet's first key.

    Returns:
        The key, which is also left in the folder as key.txt, readable by its owner only.

    Raises:
        DemoError: the folder is not the demo's, or a service runs on the fleet in it.
    """
    mark = folder / _MARK
    if folder.exists() and not mark.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise DemoError(f"{folder} is there already and was not made by the demo: name another folder")
    if (folder / DATABASE).exists():
        _check_nobody_serves(folder / DATABASE)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    mark.write_text(
        "Everything in this folder is the demo's: it is emptied at the next run.\n", encoding="utf-8"
    )
    order = serving.KeyOrder(
        fleet=FLEET_NAME, scope="admin", label="demo", days=None, time_zone=TIME_ZONE, currency=CURRENCY
    )
    key = serving.create_key(Settings.for_file(folder / DATABASE, migrate=True), order)
    path = folder / "key.txt"
    path.touch(mode=0o600)
    path.write_text(key + "\n", encoding="utf-8")
    return key


def _check_nobody_serves(database: Path) -> None:
    url = Database(f"sqlite:///{database}").url
    try:
        with dialect.only_process(url):
            pass
    except dialect.AlreadyServedError as served:
        raise DemoError(f"{served}; stop that service first, the demo builds its folder anew") from served


def own_command() -> str:
    """How the user calls wearwright from here."""
    called = Path(sys.argv[0])
    if called.name != "wearwright":
        return "wearwright"
    on_path = shutil.which("wearwright")
    if on_path is not None and Path(on_path).resolve() == called.resolve():
        return "wearwright"
    here = Path.cwd()
    return shlex.quote(str(called.relative_to(here) if called.is_relative_to(here) else called))
