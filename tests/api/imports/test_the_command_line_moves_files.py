"""`wearwright import` and `wearwright export`: a file in, the same file out."""

import os
from typing import get_args

from api.cli import files
from api.imports import fields
from tests.api.imports.sending import items
from tests.api.support import command


def run(fleet, *arguments):
    environment = {
        **os.environ,
        "WEARWRIGHT_KEY": fleet.keys["write"],
        "WEARWRIGHT_URL": fleet.service.base_url,
    }
    return command(*arguments, env=environment)


def test_a_file_goes_in_and_comes_out(fleet, tmp_path):
    cars = tmp_path / "cars.csv"
    cars.write_text("no,name,distance_unit,clerk\nA,Alder,mi,x\nB,Beech,furlongs,x\n")
    names = ("--map", "no=external_ref", "--map", "clerk=")
    refused = run(fleet, "import", str(cars), "--kind", "vehicles", *names)
    assert (refused.returncode, refused.stdout.split(":")[0]) == (1, "refused")
    assert "row 3: distance_unit: wanted " in refused.stderr
    assert items(fleet, "/v1/vehicles") == []
    taken = run(fleet, "import", str(cars), "--kind", "vehicles", *names, "--skip-bad")
    assert (taken.returncode, taken.stdout.strip()) == (0, "shown: 2 read, 1 new, 0 changed, 0 same, 1 bad")
    out = tmp_path / "out.csv"
    assert run(fleet, "export", str(out), "--kind", "vehicles").returncode == 0
    assert out.read_text().splitlines()[1].startswith("A,Alder,")


def test_the_command_knows_every_kind_of_record():
    assert get_args(get_args(files.RecordKind)[0]) == get_args(fields.RecordKind)
