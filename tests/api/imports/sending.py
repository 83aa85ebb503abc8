"""Files sent to a service and waited for."""

from dataclasses import dataclass


@dataclass
class Sent:
    """An import that has ended.

    Attributes:
        body: the import as it is read afterwards.
        job: the job that took the file in.
        errors: lines of its error file, the head left out.
    """

    body: dict
    job: dict
    errors: list

    @property
    def state(self):
        return self.body["state"]

    @property
    def rows(self):
        rows = self.body["rows"]
        return tuple(rows[name] for name in ("read", "new", "changed", "same", "bad"))


def send(fleet, kind, content, *, refresh=True, **options):
    """Open an import, send its file, wait until it has ended, and until forecasts have followed."""
    with fleet.client("write") as client:
        made = client.post("/v1/imports", json={"kind": kind, **options})
        assert made.status_code == 201, made.text
        address = made.headers["Location"]
        taken = client.put(f"{address}/content", content=content)
        assert taken.status_code == 202, taken.text
        job = fleet.wait_for_job(taken.headers["Location"])
        body = client.get(address).json()
        errors = client.get(f"{address}/errors").text.splitlines()[1:]
    if refresh and body["refresh_job_id"]:
        assert fleet.wait_for_job(f"/v1/jobs/{body['refresh_job_id']}")["state"] == "succeeded"
    return Sent(body, job, errors)


def items(fleet, path):
    """Every item of a list."""
    with fleet.client("read") as client:
        found, response = [], client.get(path)
        while True:
            found += response.raise_for_status().json()["items"]
            if "next" not in response.links:
                return found
            response = client.get(response.links["next"]["url"])


def export(fleet, kind, file_format="csv"):
    with fleet.client("read") as client:
        return client.get(f"/v1/exports/{kind}?format={file_format}").raise_for_status().text
