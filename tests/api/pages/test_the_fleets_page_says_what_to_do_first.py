"""The fleet's page names the cars with work due, those with safety parts first; what was put off stays in sight on every page."""

from datetime import UTC, datetime, timedelta

from tests.api.history.making import car as another
from tests.api.history.making import fitment, made

TODAY = datetime.now(UTC).date()


def test_cars_with_safety_parts_due_come_first(keeper, client, car, part):
    safe = another(client, name="Otto")
    fitment(client, safe, "brake_hose", "2005-01-01")
    fitment(client, safe, "rotor_arm", "2005-01-01")
    for position in ("one", "two", "three"):
        fitment(client, car, "v_belt", "2005-01-01", position=position)
    text = keeper.get("/pages").answer.text
    here = text.index("Where work is due now")
    assert here < text.index(f"/pages/cars/{safe}") < text.index(f"/pages/cars/{car}")
    assert "2 due, safety parts among them: <strong>1</strong>" in text


def test_what_was_put_off_shows_with_its_reason_and_the_limit_that_does_not_move(keeper, client, car, part):
    belts = [fitment(client, car, "v_belt", "2005-01-01", position=name) for name in ("left", "right")]
    hose = fitment(client, car, "brake_hose", "2005-01-01")
    for each in (belts[0], hose):
        body = {"until": str(TODAY + timedelta(days=90)), "reason": "standing till spring"}
        made(client.post(f"/v1/fitments/{each}/put-off", json=body))
    fleet = keeper.get("/pages").answer.text
    assert "Of those due now, 2 were put off or declined." in fleet
    groups = [piece.partition("<")[0] for piece in fleet.split("<h2>")[1:]]
    assert groups.count("Due now") == 1, groups
    assert groups[-1] == "Put off by the keeper"
    for path in ("/pages", f"/pages/cars/{car}", f"/pages/parts/{hose}"):
        text = keeper.get(path).answer.text
        assert f"Put off by the keeper on {TODAY}: standing till spring." in text, path
        assert "it cannot be put off past it" in text, path
    assert "cannot be put off" not in keeper.get(f"/pages/parts/{belts[0]}").answer.text
