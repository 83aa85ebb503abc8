"""Make the demo fleet's records anew, the same bytes each time: python -m seed_data.make_fleet [FOLDER]."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from random import Random

from seed_data.firm import CARS
from seed_data.garage import Garage
from seed_data.papers import Line, Papers
from seed_data.story import OPEN_CASE

SEED = "quillbeck 3"


def fleet_records() -> dict[str, list[Line]]:
    """Every file's lines, by name, in the order in which the demo sends them."""
    records: dict[str, list[Line]] = {
        name: []
        for name in (
            *("vehicles", "odometer_readings", "fitments", "inspections", "repairs", "removals"),
            "fault_findings",
        )
    }
    for car in CARS:
        garage = Garage(car, Random(f"{SEED}/{car.ref}/life"))  # noqa: S311 - a story, not a secret
        garage.run()
        papers = Papers(garage, Random(f"{SEED}/{car.ref}/papers"))  # noqa: S311 - a story, not a secret
        records["vehicles"].append(papers.vehicle)
        records["odometer_readings"] += papers.readings
        records["fitments"] += papers.fitments
        records["inspections"] += papers.inspections
        records["repairs"] += papers.repairs
        records["removals"] += papers.removals
    records["fault_findings"].append(OPEN_CASE)
    return records


def write(folder: Path) -> None:
    """Write one JSON Lines file per resource into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, lines in fleet_records().items():
        text = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
        (folder / f"{name}.jsonl").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
