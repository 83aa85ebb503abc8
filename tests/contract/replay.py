"""Replays an example of ``openapi_examples`` against a real service and compares the answer in shape.

How to write an example: see the docstring of ``api.openapi``. Write the request by hand; then

    .venv/bin/python -m tests.contract.replay

asks a service of its own for every example without an answer and writes the answer down. Read what it wrote: from then
on it is what the documentation shows and what the tests demand.

Shape: the same names at every level; the same JSON type (a whole number and a fraction are both numbers); null only
where null is shown; each item of a list as one of those shown, empty only if shown empty. Of a problem, ``type``,
``title`` and ``status`` are compared by value, as is every status code. ``varies`` in a request names places of the
answer (dotted) that depend on the moment and are not compared.
"""

import json
import re
import sys
import tempfile
from pathlib import Path

from api.shipped import shipped
from tests.api.support import fresh_settings, running

PLACE = re.compile(r"\{([a-z_]+)\}")
PROBLEM_VALUES = ("type", "title", "status")


def replay(example, fleet):
    """Make the example's preparations and its request on a fresh fleet; the answer."""
    request, known = example.request, {}
    scope = request.get("key", "write")
    with fleet.client("admin") as preparing:
        for step in request.get("needs", []):
            response = send(preparing, step, known)
            assert response.is_success, f"preparing {step['path']}: {response.status_code} {response.text}"
            follow_job(fleet, response, step)
            keep(step.get("keep", {}), response, known)
    with fleet.client("read" if scope == "none" else scope) as asking:
        if scope == "none":
            del asking.headers["Authorization"]
        return send(asking, request, known)


def send(client, step, known):
    """One request with the kept values filled in."""
    step = fill(step, known)
    body = step.get("body")
    said = {"content": body} if isinstance(body, str) else {"json": body}
    return client.request(step["method"], step["path"], headers=step.get("headers"), **said)


def follow_job(fleet, response, step):
    """Wait for background work that a preparation began, unless it says not to."""
    if response.status_code == 202 and step.get("wait", True):
        fleet.wait_for_job(response.headers["Location"])


def keep(wanted, response, known):
    """Keep parts of an answer under names for later steps."""
    for name, path in wanted.items():
        source, *rest = path.split(".", 1)
        if source == "header":
            known[name] = response.headers[rest[0]]
            continue
        value = response.json()
        for part in path.split("."):
            value = value[int(part)] if isinstance(value, list) else value[part]
        known[name] = value


def fill(value, known):
    """Put kept values in place of ``{name}`` everywhere."""
    if isinstance(value, str):
        return PLACE.sub(lambda found: str(known.get(found[1], found[0])), value)
    if isinstance(value, dict):
        return {key: fill(inner, known) for key, inner in value.items()}
    return [fill(inner, known) for inner in value] if isinstance(value, list) else value


def differences(shown, got, place="body"):
    """Where an answer's shape is not the one shown, in words."""
    if kind_of(shown) != kind_of(got):
        return [f"{place}: shown {kind_of(shown)}, got {kind_of(got)}"]
    if isinstance(shown, dict):
        return _of_objects(shown, got, place)
    if isinstance(shown, list):
        if bool(shown) != bool(got):
            return [f"{place}: shown {len(shown)} items, got {len(got)}"]
        return [
            found for number, item in enumerate(got) for found in _of_item(shown, item, f"{place}.{number}")
        ]
    return []


def unlike(example, response):
    """Where the answer is not as the example shows, in words."""
    varies = tuple(f"body.{place}:" for place in example.request.get("varies", []))
    found = differences(example.response.get("body"), content_of(response))
    return [difference for difference in found if not difference.startswith(varies)]


def _of_item(shown, item, place):
    """The fewest differences from any of the items shown."""
    return min((differences(one, item, place) for one in shown), key=len)


def _of_objects(shown, got, place):
    found = [f"{place}.{name}: shown, not there" for name in sorted(shown.keys() - got.keys())]
    found += [f"{place}.{name}: there, not shown" for name in sorted(got.keys() - shown.keys())]
    for name in sorted(shown.keys() & got.keys()):
        found += differences(shown[name], got[name], f"{place}.{name}")
    if "title" in shown and str(shown.get("type", "")).startswith("/problems/"):
        found += [
            f"{place}.{name}: {shown[name]} shown, {got.get(name)} got"
            for name in PROBLEM_VALUES
            if shown[name] != got.get(name)
        ]
    return found


def kind_of(value):
    """JSON's word for the type."""
    if value is None:
        return "null"
    for kind, word in ((bool, "boolean"), ((int, float), "number"), (str, "string"), (list, "array")):
        if isinstance(value, kind):
            return word
    return "object"


def content_of(response):
    """An answer's body as JSON, or as text."""
    if not response.content:
        return None
    return response.json() if "json" in response.headers["content-type"] else response.text


def record_missing():
    """Ask for every example that has no answer yet, and write the answers down."""
    from api.openapi import Example

    with tempfile.TemporaryDirectory() as folder, running(fresh_settings(Path(folder))) as service:
        for asked in sorted(shipped("openapi_examples").glob("*/*.request.json")):
            case = asked.name.removesuffix(".request.json")
            answered = asked.with_name(f"{case}.response.json")
            if answered.exists():
                continue
            request = json.loads(asked.read_text(encoding="utf-8"))
            response = replay(Example(asked.parent.name, case, request, {}), service.fleet())
            answer = {"status": response.status_code, "body": content_of(response)}
            answered.write_text(json.dumps(answer, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
            sys.stdout.write(f"{asked.parent.name}/{case}: {response.status_code}\n")


if __name__ == "__main__":
    record_missing()
