"""Records for the browser's tests, sent through the JSON service."""

import datetime as dt

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


def faults_of(client, car, name):
    """A complaint and a check of the fleet's own and a case on the car, with the name wherever text is taken; the case's id."""
    own = name[:300]
    complaint = {
        "id": "will_not_go", "title": own, "stop_driving": True, "warning": own,
        "causes": [{"kinds": ["rotor_arm"], "weight": 60}, {"kinds": ["battery"], "weight": 20}],
        "others": [{"what": own, "weight": 20}], "note": own,
    }  # fmt: skip
    _made(client, "/v1/complaints", complaint)
    check = {"id": "look_hard", "name": own, "targets": ["rotor_arm", "battery"], "sensitivity": 0.9, "specificity": 0.9,
             "minutes": 5, "caution": own, "note": own}  # fmt: skip
    _made(client, "/v1/checks", check)
    opened = {"complaint": "will_not_go", "last_ran_well": "2024-05-01", "note": name}
    case = _made(client, f"/v1/vehicles/{car}/fault-findings", opened)
    _made(client, f"/v1/fault-findings/{case}/steps", {"check": "look_hard", "outcome": "good", "note": name})
    return case


def digest_of(fleet, client, part, name):
    """This week's digest, with a decision in the name's words and something done; its week."""
    _made(
        client, f"/v1/fitments/{part}/repairs", {"repaired_on": _today(), "action": "cleaned", "note": name}
    )
    put_off = client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": name[:400]})
    assert put_off.status_code == 201, put_off.text
    job = fleet.wait_for_job(client.post("/v1/digests").headers["Location"])
    assert job["state"] == "succeeded", job
    return job["result"]["week"]


def _today():
    return dt.datetime.now(dt.UTC).date().isoformat()


def _made(client, path, body):
    answer = client.post(path, json=body)
    assert answer.status_code == 201, answer.text
    return answer.json()["id"]
