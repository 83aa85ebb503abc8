"""An open case with which nobody should drive on shows on the car's sheet and in the fleet's list, until it is gone."""

from tests.api.faults.cases import car_with, closed, opened

HOSE = {"brake_hose": 12}


def test_it_shows_on_the_sheet_and_in_the_list_until_the_case_is_closed(keeper, client):
    vehicle, _ = car_with(client, HOSE)
    quiet = ("/pages", f"/pages/cars/{vehicle}")
    assert not [path for path in quiet if "Do not drive" in keeper.get(path).answer.text]
    case = opened(client, vehicle, complaint="sinking_pedal")
    for path in quiet:
        text = keeper.get(path).answer.text
        assert "Do not drive" in text, path
        assert f"/pages/faults/{case['id']}" in text
    closed(client, case, cured=False)
    assert not [path for path in quiet if "Do not drive" in keeper.get(path).answer.text]
