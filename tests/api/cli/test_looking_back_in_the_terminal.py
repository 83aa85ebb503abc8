"""`wearwright backtest` waits for the looking back and shows it in tables that fit, or as the service's own JSON."""

import json

from tests.api.backtests.test_looking_back import PATH, with_rotor_arms
from tests.api.cli.test_asking_a_running_service import ask, here

__all__ = ["ask", "here"]  # fixtures


def test_tables_for_people_and_json_for_programs(ask, client):
    for number in range(4):
        with_rotor_arms(client, number)
    assert ask("backtest", "rotor_arm", "--stored").stdout.startswith("Not looked back on yet")
    shown = ask("backtest", "rotor_arm", "--every", "year", "--first", "2010-06-01")
    assert shown.returncode == 0, shown.stderr
    assert max(map(len, shown.stdout.splitlines())) <= 100
    for words in (
        "Verdict",
        "Came for one foretold",
        "What was said",
        "rule of thumb",
        "2010",
        "no inspection",
    ):
        assert words in " ".join(shown.stdout.split())
    told = ask("backtest", "rotor_arm", "--stored", "--json")
    assert json.loads(told.stdout) == client.get(PATH).json()
    assert json.loads(told.stdout)["found"]["first"] == "2010-06-01"


def test_what_cannot_be_looked_back_on_is_one_line_and_a_status(ask, client):
    for arguments, status, said in (
        (("rotor_arm",), 1, "nothing to look back on"),
        (("flux_capacitor",), 1, "404"),
        (("rotor_arm", "--horizon-years", "90"), 2, "horizon_years"),
        (("rotor_arm", "--first", "spring"), 2, "first"),
        (("rotor_arm", "--every", "week"), 2, "week"),
    ):
        refused = ask("backtest", *arguments)
        assert refused.returncode == status, refused
        assert said in refused.stderr
