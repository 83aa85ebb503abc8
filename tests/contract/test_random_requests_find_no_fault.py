"""schemathesis over the OpenAPI document, every check on: no 5xx, no undocumented answer, no schema that lies."""

import os
import re
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

HERE = Path(__file__).parent


def run(service, fleet, *arguments):
    """Run it against the service with an admin key of the fleet."""
    command = [
        *(
            str(Path(sys.executable).parent / "schemathesis"),
            "--config-file",
            str(HERE / "schemathesis.toml"),
            "run",
        ),
        *("--seed", "1", "--continue-on-failure", *arguments, f"{service.base_url}/openapi.json"),
    ]
    environment = {**os.environ, "SCHEMATHESIS_HOOKS": "tests.contract.schemathesis_hooks"}
    environment["WEARWRIGHT_KEY"] = fleet.keys["admin"]
    # The first reader waits until the document is made, and schemathesis waits ten seconds at most.
    httpx.get(f"{service.base_url}/openapi.json", timeout=120).raise_for_status()
    return subprocess.run(command, capture_output=True, text=True, check=False, env=environment, timeout=3000)


def check(done):
    assert done.returncode == 0, done.stdout[-20000:] + done.stderr[-2000:]


@pytest.mark.timeout(600)  # a hundred operations, one after the other
def test_a_few_of_each_operation(service):
    """A short run; each value's edges (the coverage phase) are walked in the full one."""
    check(run(service, service.fleet(), "--max-examples", "8", "--phases", "examples,fuzzing"))


@pytest.mark.full
def test_five_thousand_and_more(service):
    done = run(service, service.fleet(), "--max-examples", "100")
    check(done)
    cases = re.search(r"(\d+) generated,", done.stdout)
    assert cases is not None
    assert int(cases[1]) >= 5000
