"""The README's integration runs as it stands: another program's CSV files in, job cards out, nothing twice."""

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.api.operations.test_the_command_line_serves import free_port
from tests.api.support import shared_service

ROOT = Path(__file__).resolve().parents[2]
SECTION = (ROOT / "README.md").read_text().partition("### With another program")[2]
FILES = {
    "vehicles": "CarNo,Car,Built,Dial,Owner\nC-7,the green van,1978~,mi,A. Keeper\nC-8,the old saloon,1964,mi,B. Keeper\n",
    "fitments": "Job,CarNo,Part,Done,Miles\nJ-1,C-7,v_belt,2004-05-01,41000\nJ-2,C-8,v_belt,2026-11-02,90500\nJ-3,C-9,v_belt,2020-01-01,5\n",
    "odometer-readings": "Entry,CarNo,Date,Miles\nE-1,C-7,2026-04-02,61250\nE-2,C-8,2026-11-02,90500\n",
}


@pytest.fixture
def service(monkeypatch):
    with shared_service() as found:
        monkeypatch.setattr(found.app.state.settings, "webhook_hosts", ("127.0.0.1",))
        yield found


def wait_for(condition, seconds=60):
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited too long"
        time.sleep(0.1)


def test_files_in_and_job_cards_out(service, tmp_path):
    code = re.search(r"```python\n(.+?)```", SECTION, re.DOTALL)[1]
    assert len(code.splitlines()) < 60
    (tmp_path / "shop.py").write_text(code)
    for name, text in FILES.items():
        (tmp_path / f"{name}.csv").write_text(text)
    fleet, port = service.fleet(), str(free_port())
    known = {
        "WEARWRIGHT_URL": service.base_url,
        "WEARWRIGHT_KEY": fleet.keys["write"],
        "PYTHONPATH": str(ROOT),
    }
    options = {"cwd": tmp_path, "env": {**os.environ, **known}, "text": True}
    cards = tmp_path / "cards.txt"
    shop = [sys.executable, "shop.py"]
    with cards.open("w") as out:
        hook = subprocess.Popen([*shop, "hook", port, f"http://127.0.0.1:{port}/"], stdout=out, **options)
        try:
            wait_for((tmp_path / "hook.secret").exists)
            for _ in range(2):  # the same files come again the next night
                done = subprocess.run([*shop, "nightly"], capture_output=True, check=False, **options)
                assert done.returncode == 0, done.stderr
                assert "vehicles shown" in done.stdout
                assert "J-3" in done.stdout or "vehicle_ref" in done.stdout
            wait_for(cards.read_text)
            with fleet.client("read") as client:
                path = f"/v1/webhooks/{client.get('/v1/webhooks').json()['items'][0]['id']}/deliveries"
                wait_for(lambda: {row["state"] for row in client.get(path).json()["items"]} == {"delivered"})
        finally:
            hook.terminate()
            hook.wait()
    (card,) = cards.read_text().splitlines()
    assert re.fullmatch(r"job card: C-7 v_belt by \d{4}-\d{2}-\d{2}", card)
