"""The fleet's records on their way to the service: over HTTP, car by car, as any caller would send them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from planner.progress import Progress, silent

if TYPE_CHECKING:
    from api.client import Json, WearwrightClient
    from api.demo.records import FleetRecords, Line


@dataclass(frozen=True)
class Registered:
    """What the service calls the cars and parts that were sent: its ids by our own keys."""

    vehicles: dict[str, str] = field(default_factory=dict)
    fitments: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Refit:
    """How the refit of one kind ended."""

    kind: str
    job: Json

    @property
    def went_well(self) -> bool:
        """Whether the kind now has a life fitted from the fleet's records."""
        return bool(self.job["state"] == "succeeded")


def register(client: WearwrightClient, records: FleetRecords, progress: Progress = silent) -> Registered:
    """Send every record; a refusal stops it with the service's `ProblemError`."""
    ids, done, total = Registered(), 0, len(records)
    for car, readings, parts in records.by_car():
        vehicle_id = client.add_vehicle(car)["id"]
        ids.vehicles[car["external_ref"]] = vehicle_id
        for reading in readings:
            client.add_odometer_reading(vehicle_id, _body(reading))
        done += 1 + len(readings)
        for part, events in parts:
            fitment_id = client.add_fitment(vehicle_id, _body(part))["id"]
            ids.fitments[part["external_ref"]] = fitment_id
            for resource, line in events:
                _add(client, fitment_id, resource, _body(line))
            done += 1 + len(events)
            if done < total:
                progress(done, total, f"records sent, now {car['name']}'s")
    progress(total, total, "records sent")
    return ids


def refit(client: WearwrightClient, kinds: list[str], progress: Progress = silent) -> list[Refit]:
    """Ask for a new fit of each kind and wait for all of them."""
    jobs = [(kind, client.refit(kind)["id"]) for kind in kinds]
    ended = []
    for done, (kind, job_id) in enumerate(jobs):
        progress(done, len(jobs), f"part kinds fitted, now {kind.replace('_', ' ')}")
        ended.append(Refit(kind, client.wait_for_job(job_id)))
    progress(len(jobs), len(jobs), "part kinds fitted")
    return ended


def open_cases(client: WearwrightClient, records: FleetRecords, ids: Registered) -> list[tuple[Json, Json]]:
    """Open the complaints that nobody has looked into yet; each case with its next step."""
    opened = []
    for line in records.fault_findings:
        case = client.open_fault_finding(ids.vehicles[line["vehicle"]], _body(line))
        opened.append((case, client.next_step(case["id"])))
    return opened


def make_digest(client: WearwrightClient) -> str | None:
    """Have this week's digest made; its week, None where that failed."""
    job = client.wait_for_job(client.make_digest()["id"])
    return str(job["result"]["week"]) if job["state"] == "succeeded" else None


def _add(client: WearwrightClient, fitment_id: str, resource: str, body: Line) -> None:
    send = {"inspections": client.add_inspection, "repairs": client.add_repair, "removal": client.add_removal}
    send[resource](fitment_id, body)


def _body(line: Line) -> Line:
    return {name: value for name, value in line.items() if name not in {"vehicle", "fitment"}}
