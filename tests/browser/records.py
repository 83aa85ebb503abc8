"""Records for the browser's tests, sent through the JSON service."""

HOSTILE = "<script>alert(1)</script><b onmouseover=alert(2)>\u202eenots\u202c " + "Wm" * 60


def car_with_parts(client, name="Hector"):
    """A car with readings and parts of several kinds; gives its id and the first part's."""
    body = {
        "name": name,
        "make": name,
        "distance_unit": "mi",
        "built": "1967",
        "system": "points",
        "notes": name,
    }
    car = _made(client, "/v1/vehicles", body)
    for day, value in (("2019-05-01", 44_000), ("2024-05-12", 52_000)):
        _made(
            client,
            f"/v1/vehicles/{car}/odometer-readings",
            {"read_on": day, "reading": {"value": value, "unit": "mi"}},
        )
    parts = [
        _made(
            client,
            f"/v1/vehicles/{car}/fitments",
            {"kind": kind, "position": position, "fitted_on": fitted, "note": name},
        )
        for kind, position, fitted in (
            ("rotor_arm", None, "2020-03"),
            ("brake_hose", name[:80], "2019-06-01"),
            ("timing_belt", None, "2021~"),
            ("battery", None, None),
        )
    ]
    look = {"inspected_on": "2024-05-20", "finding": "near limit", "note": name}
    _made(client, f"/v1/fitments/{parts[0]}/inspections", look)
    return car, parts[0]


def _made(client, path, body):
    answer = client.post(path, json=body)
    assert answer.status_code == 201, answer.text
    return answer.json()["id"]
