"""The invented fleet's records, as they stand in seed_data."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path

Line = dict[str, Any]
"""One record: a request body, plus the key of the car (`vehicle`) or part (`fitment`) that it belongs to."""

FLEET_NAME = "Quillbeck & Daughters, wedding and touring hire"
TIME_ZONE = "Europe/London"
CURRENCY = "GBP"


@dataclass(frozen=True)
class FleetRecords:
    """Every record of the fleet, one tuple per file of seed_data, in the files' order."""

    vehicles: tuple[Line, ...]
    odometer_readings: tuple[Line, ...]
    fitments: tuple[Line, ...]
    inspections: tuple[Line, ...]
    repairs: tuple[Line, ...]
    removals: tuple[Line, ...]
    fault_findings: tuple[Line, ...]

    @classmethod
    def load(cls, folder: Path) -> Self:
        """Read the files of a folder.

        Raises:
            OSError: a file is missing or cannot be read.
            json.JSONDecodeError: a line is no JSON.
        """
        return cls(**{
            field.name: tuple(map(json.loads, (folder / f"{field.name}.jsonl").read_text("utf-8").splitlines()))
            for field in fields(cls)
        })  # fmt: skip

    def __len__(self) -> int:
        """How many records of cars and parts there are; open complaints are not counted."""
        return sum(len(getattr(self, field.name)) for field in fields(self) if field.name != "fault_findings")

    def of_cars(self, cars: Collection[str]) -> FleetRecords:
        """The records of these cars only (their external_ref)."""
        kept = {line["external_ref"] for line in self.fitments if line["vehicle"] in cars}
        return FleetRecords(
            vehicles=tuple(line for line in self.vehicles if line["external_ref"] in cars),
            odometer_readings=tuple(line for line in self.odometer_readings if line["vehicle"] in cars),
            fitments=tuple(line for line in self.fitments if line["vehicle"] in cars),
            inspections=tuple(line for line in self.inspections if line["fitment"] in kept),
            repairs=tuple(line for line in self.repairs if line["fitment"] in kept),
            removals=tuple(line for line in self.removals if line["fitment"] in kept),
            fault_findings=tuple(line for line in self.fault_findings if line["vehicle"] in cars),
        )

    def without_removal(self, external_ref: str) -> FleetRecords:
        """The same with one removal taken out: that part is then still on its car."""
        left = tuple(line for line in self.removals if line["external_ref"] != external_ref)
        return replace(self, removals=left)

    def kinds_with_evidence(self) -> list[str]:
        """Part kinds of which at least one part has come off: there the fleet's own records say something."""
        gone = {line["fitment"] for line in self.removals}
        return sorted({line["kind"] for line in self.fitments if line["external_ref"] in gone})

    def removals_without_cure(self, car: str) -> list[tuple[str, Line]]:
        """One car's removals that did not cure the complaint, each with its part kind."""
        kinds = {line["external_ref"]: line["kind"] for line in self.fitments if line["vehicle"] == car}
        return [
            (kinds[line["fitment"]], line)
            for line in self.removals
            if line["fitment"] in kinds and line.get("cured") is False
        ]

    def last_day(self) -> str:
        """The last day of which any record speaks for certain, ISO 8601: where the papers end."""
        days: list[str] = [line["read_on"] for line in self.odometer_readings]
        days += [line["inspected_on"] for line in self.inspections]
        days += [line["repaired_on"] for line in self.repairs]
        days += [line["removed_on"] for line in self.removals if len(line["removed_on"]) == len("2026-01-01")]
        return max(days)

    def by_car(self) -> Iterator[tuple[Line, list[Line], list[tuple[Line, list[tuple[str, Line]]]]]]:
        """For each car: itself, its readings, and its parts with what happened to each, in order of time.

        What happened is a pair of the resource ("inspections", "repairs", "removal") and the record.
        """
        readings, parts = _grouped(self.odometer_readings, "vehicle"), _grouped(self.fitments, "vehicle")
        later: dict[str, list[tuple[str, Line]]] = defaultdict(list)
        for resource, lines in (
            ("inspections", self.inspections),
            ("repairs", self.repairs),
            ("removal", self.removals),
        ):
            for line in lines:
                later[line["fitment"]].append((resource, line))
        for car in self.vehicles:
            ref = car["external_ref"]
            yield car, readings[ref], [(part, later[part["external_ref"]]) for part in parts[ref]]


def _grouped(lines: tuple[Line, ...], key: str) -> defaultdict[str, list[Line]]:
    groups: defaultdict[str, list[Line]] = defaultdict(list)
    for line in lines:
        groups[line[key]].append(line)
    return groups
