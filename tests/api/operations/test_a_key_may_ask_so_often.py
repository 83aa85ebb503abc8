"""Rate limit: past its number of requests a key gets 429 with Retry-After; other keys go on."""

import pytest

from api.problems import TooManyRequests
from api.web.rates import Rates
from tests.api.support import fresh_settings, running


def test_past_the_limit_a_key_waits_and_others_do_not(tmp_path):
    with running(fresh_settings(tmp_path, jobs=False, requests_per_minute=5)) as service:
        fleet = service.fleet()
        with fleet.client("read") as busy, fleet.client("write") as other:
            statuses = [busy.get("/v1/vehicles").status_code for _ in range(5)]
            refused = busy.get("/v1/vehicles")
            assert statuses == [200] * 5
            assert refused.status_code == 429
            assert refused.headers["content-type"] == "application/problem+json"
            assert 1 <= int(refused.headers["retry-after"]) <= 60
            assert other.get("/v1/vehicles").status_code == 200
            assert busy.get("/healthz").status_code == 200


def test_the_window_moves_on(monkeypatch):
    import time

    rates = Rates(2)
    rates.count("a")
    rates.count("a")
    with pytest.raises(TooManyRequests):
        rates.count("a")
    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + 121)
    rates.count("a")


def test_zero_is_no_limit():
    rates = Rates(0)
    for _ in range(1000):
        rates.count("a")
