"""Files that are no good in themselves: told in a problem document, never a 5xx, and nothing of them is stored."""

import gzip
import json
import random
import time

import pytest

from api.imports import texts
from api.settings import Settings
from tests.api.imports.sending import items, send
from tests.api.support import fresh_settings, running

HEAD = "vehicle_ref,external_ref,read_on,reading.value,reading.unit\n"
GOOD = HEAD + "A,E1,2024-05-17,61200,mi\n"


@pytest.fixture
def car(fleet):
    assert send(fleet, "vehicles", "external_ref,name,distance_unit\nA,Alder,mi\n").state == "shown"
    return items(fleet, "/v1/vehicles")[0]["id"]


def refused(fleet, content, **options):
    """The problem that a file is refused with."""
    sent = send(fleet, "odometer-readings", content, **options)
    assert (sent.job["state"], sent.state) == ("failed", "refused"), sent.body
    assert sent.job["problem"]["status"] == 422
    assert sent.errors
    return sent


@pytest.mark.parametrize(
    ("content", "got"),
    [
        (b"\xef\xbb\xbf", "an empty file"),
        (b"PK\x03\x04" + b"x" * 100, "a zip archive or a spreadsheet"),
        (gzip.compress(GOOD.encode()), "a gzip archive"),
        (b"%PDF-1.7", "a PDF"),
        (b'"vehicle_ref,x', "unexpected end of data, in lines 1 to 1"),
    ],
    ids=["a mark alone", "zip", "gzip", "pdf", "open quote"],
)
def test_files_that_are_no_text_or_have_no_head(fleet, car, content, got):
    (error,) = refused(fleet, content).job["problem"]["errors"]
    assert (error["field"], error["got"]) == ("content", got)


def test_an_upload_of_nothing_is_refused_and_the_import_waits_on(fleet, client, car):
    address = client.post("/v1/imports", json={"kind": "odometer-readings"}).headers["Location"]
    refused = client.put(f"{address}/content")
    assert (refused.status_code, refused.json()["field"]) == (422, "content")
    assert client.get(address).json()["state"] == "open"
    taken = client.put(f"{address}/content", content=GOOD.encode())
    assert taken.status_code == 202, taken.text
    assert fleet.wait_for_job(taken.headers["Location"])["state"] == "succeeded"
    assert client.put(f"{address}/content", content=b"").status_code == 422
    assert len(items(fleet, f"/v1/vehicles/{car}/odometer-readings")) == 1


def test_two_columns_for_one_value(fleet, car):
    errors = refused(fleet, "vehicle_ref,Vehicle Ref\nA,A\n").job["problem"]["errors"]
    assert errors[0]["field"] == "vehicle_ref"


def test_a_mapped_column_that_is_not_there(fleet, car):
    errors = refused(fleet, GOOD, mapping={"odo": "reading.value"}).job["problem"]["errors"]
    assert errors[0]["field"] == "mapping.odo"


def test_a_mapping_to_a_value_that_there_is_not(client):
    body = {"kind": "vehicles", "mapping": {"car": "nickname"}}
    answer = client.post("/v1/imports", json=body)
    assert answer.status_code == 422
    assert answer.json()["field"] == "mapping.car"


@pytest.mark.parametrize(
    ("content", "encoding", "read_as"),
    [
        ("\ufeff" + GOOD.replace("E1", "Zürich-1"), "utf-8", "utf-8-sig"),
        ("\ufeff" + GOOD.replace("E1", "Zürich-1"), "utf-16-le", "utf-16-le"),
        ("\ufeff" + GOOD.replace("E1", "Zürich-1"), "utf-16-be", "utf-16-be"),
        (GOOD.replace("E1", "Zürich-1"), "utf-16-le", "utf-16-le"),
        (GOOD.replace("E1", "Zürich-1"), "utf-8", "utf-8"),
        (GOOD.replace("E1", "Zürich-1"), "cp1252", "cp1252"),
    ],
    ids=["utf-8 mark", "utf-16-le mark", "utf-16-be mark", "utf-16-le", "utf-8", "cp1252"],
)
def test_encodings_are_found_out(fleet, car, content, encoding, read_as):
    sent = send(fleet, "odometer-readings", content.encode(encoding))
    assert (sent.state, sent.body["encoding"]) == ("shown", read_as)
    (stored,) = items(fleet, f"/v1/vehicles/{car}/odometer-readings")
    assert stored["external_ref"] == "Zürich-1"


def test_bytes_that_are_no_text_in_the_declared_encoding_are_their_rows_fault(fleet, car):
    content = (GOOD + "A,Zürich,2025-01-01,62000,mi\n").encode("cp1252")
    sent = send(fleet, "odometer-readings", content, encoding="utf-8", bad_rows="skip")
    assert sent.rows == (2, 1, 0, 0, 1)
    assert sent.errors[0].startswith("3,external_ref,text in the file's encoding,")
    lone = (GOOD + "A,Q,2025-01-01,62000,mi\n").encode("utf-16-le").replace(b"Q\x00", b"\x00\xd8")
    sent = send(fleet, "odometer-readings", lone, bad_rows="skip")
    assert sent.rows[4] == 1


def test_separators_and_decimal_commas_and_other_days(fleet, car):
    text = "vehicle_ref;external_ref;read_on;reading.value;reading.unit\nA;E1;17.5.2024;61200,5;MI\n"
    sent = send(fleet, "odometer-readings", text, decimal_comma=True, days="day first")
    assert sent.state == "shown"
    (stored,) = items(fleet, f"/v1/vehicles/{car}/odometer-readings")
    assert (stored["read_on"], stored["reading"]) == ("2024-05-17", {"value": 61200.5, "unit": "mi"})


BAD_ROWS = [
    ("A,X,2024-05-17,1_000,mi", "reading.value"),
    ("A,X,2024-05-17,nan,mi", "reading.value"),
    ("A,X,2024-05-17,1e999,mi", "reading.value"),
    ("A,X,2024-05-17,-5,mi", "reading.value"),
    ("A,X,2024-05-17,=1+1,mi", "reading.value"),
    ("A,X,2024-05-17,٣,mi", "reading.value"),
    ("A,X,2024-05-17,5,leagues", "reading.unit"),
    ("A,X,2024-05-17,5,", "reading.unit"),
    ("A,X,2999-05-17,5,mi", "read_on"),
    ("A,X,1066-10-14,5,mi", "read_on"),
    ("A,X,20240517,5,mi", "read_on"),
    ("A,\x00,2024-05-17,5,mi", "external_ref"),
    (f"A,{'x' * 201},2024-05-17,5,mi", "external_ref"),
    (",X,2024-05-17,5,mi", "vehicle_ref"),
    ("A,X,2024-05-17,5,mi,more", "row"),
    ("A,X", "row"),
    ('A,"X"y,2024-05-17,5,mi', "row"),
]


def test_each_bad_row_is_told_with_its_field(fleet, car):
    after = "A,E2,2025-05-17,62000,mi\n"
    text = GOOD + "".join(f"{row}\n" for row, _ in BAD_ROWS) + after
    sent = send(fleet, "odometer-readings", text, bad_rows="skip")
    assert sent.rows == (len(BAD_ROWS) + 2, 2, 0, 0, len(BAD_ROWS)), sent.errors
    told = [error.split(",")[:2] for error in sent.errors]
    assert told == [[str(at), field] for at, (_, field) in enumerate(BAD_ROWS, 3)]


BAD_LINES = [
    ("[" * 10_000, "row"),
    ('{"reading": ' * 300 + "1" + "}" * 300, "row"),
    ('{"vehicle_ref": "A", "read_on": "2024-05-17", "reading": {"value": true, "unit": "mi"}}', "reading.value"),
    ('{"vehicle_ref": "A", "read_on": 0, "reading": {"value": 1, "unit": "mi"}}', "read_on"),
    ('{"vehicle_ref": ["A"], "read_on": "2024-05-17", "reading": {"value": 1, "unit": "mi"}}', "vehicle_ref"),
    ('{"vehicle_ref": "A", "read_on": ["2024-05-17"], "reading": {"value": 1, "unit": "mi"}}', "read_on"),
    ('{"vehicle_ref": "A", "read_on": "2024-05-17", "reading": [1]}', "reading"),
    ('{"vehicle_ref": "A", "read_on": "2024-05-17", "reading": {"value": 1e400, "unit": "mi"}}', "reading.value"),
    ('{"vehicle_ref": "A", "read_on": "2024-05-17", "reading": {"value": 1, "unit": "mi", "x": 1}}', "reading.x"),
    ('{"vehicle_ref": "A", "external_ref": "\\ud800", "read_on": "2024-05-17"}', "row"),
    ("x" * 2_500_000, "row"),
]  # fmt: skip


def test_each_bad_line_is_told_with_its_field(fleet, car):
    good = '{"vehicle_ref": "A", "external_ref": "%s", "read_on": "%s", "reading": {"value": %s, "unit": "mi"}}\n'
    text = good % ("E1", "2024-05-17", 61200) + "".join(f"{line}\n" for line, _ in BAD_LINES)
    sent = send(
        fleet, "odometer-readings", text + good % ("E2", "2025-05-17", 62000), format="jsonl", bad_rows="skip"
    )
    assert sent.rows == (len(BAD_LINES) + 2, 2, 0, 0, len(BAD_LINES)), sent.errors
    told = [error.split(",")[:2] for error in sent.errors]
    assert told == [[str(at), field] for at, (_, field) in enumerate(BAD_LINES, 2)]


def test_signs_that_no_database_keeps_are_told_in_signs_that_it_does(fleet, car):
    sent = send(fleet, "odometer-readings", GOOD + "A,\x00,2024-06-17,5,mi\n", bad_rows="skip")
    assert (sent.state, sent.rows) == ("shown", (2, 1, 0, 0, 1))
    assert sent.errors[0].endswith(",\\x00")
    head = refused(fleet, GOOD.replace("reading.unit", "a\x00b"))
    assert head.errors[0].startswith("0,mapping.a\\x00b,")


@pytest.mark.parametrize("file_format", ["csv", "jsonl"])
def test_rows_are_numbered_as_an_editor_or_a_spreadsheet_shows_them(fleet, car, file_format):
    object_ = '{"vehicle_ref": "%s", "external_ref": "%s", "read_on": "2024-05-17", "reading": {"value": 5, "unit": "mi"}}'
    row = {"csv": "%s,%s,2024-05-17,5,mi", "jsonl": object_}[file_format]
    head = (
        "vehicle_ref,external_ref,read_on,reading.value,reading.unit,source\n"
        if file_format == "csv"
        else "\n"
    )
    text = head + "\n".join((row % ("A", "E1"), "", row % ("B", "E2"), row % ("C", "E3"), ""))
    if file_format == "csv":
        text = text.replace("5,mi", '5,mi,"on the\nphone"')
    sent = send(fleet, "odometer-readings", text, format=file_format, bad_rows="skip")
    assert sent.rows == (3, 1, 0, 0, 2)
    assert [error.split(",")[:2] for error in sent.errors] == [["4", "vehicle_ref"], ["5", "vehicle_ref"]]
    assert sent.job["result"]["rows"]["read"] == 3


def test_a_line_without_end_is_refused_and_takes_no_memory(fleet, car):
    text = GOOD + '"' + "x" * 6_000_000
    sent = send(fleet, "odometer-readings", text, bad_rows="skip")
    assert (sent.rows[1], sent.state) == (1, "shown")
    assert sent.rows[4] >= 1


def test_a_content_encoding_is_refused(client):
    address = client.post("/v1/imports", json={"kind": "vehicles"}).headers["Location"]
    bomb = gzip.compress(b"\x00" * 10_000_000)
    answer = client.put(f"{address}/content", content=bomb, headers={"Content-Encoding": "gzip"})
    assert answer.status_code == 415
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_file_over_the_limit_is_refused(tmp_path):
    settings = Settings.model_validate(
        {**fresh_settings(tmp_path).model_dump(exclude_unset=True), "max_import_bytes": 5_000, "jobs": False}
    )
    with running(settings) as service, service.fleet().client("write") as client:
        address = client.post("/v1/imports", json={"kind": "vehicles"}).headers["Location"]
        answer = client.put(f"{address}/content", content=b"x" * 6_000)
        assert (answer.status_code, answer.json()["limit"]) == (413, 5_000)
        assert client.get(address).json()["state"] == "open"
        assert client.put(f"{address}/content", content=b"x" * 600).status_code == 202


def test_a_second_file_and_a_second_import_wait_their_turn(fleet, client, car):
    rows = "".join(
        f"A,E{n},{2000 + n // 300}-{1 + n // 25 % 12:02d}-{1 + n % 25:02d},{1000 + n},mi\n"
        for n in range(6000)
    )
    first, second = (
        client.post("/v1/imports", json={"kind": "odometer-readings"}).headers["Location"] for _ in "12"
    )
    taken = client.put(f"{first}/content", content=HEAD + rows)
    assert taken.status_code == 202
    again = client.put(f"{first}/content", content=HEAD + rows)
    assert (again.status_code, again.json()["job_id"]) == (202, taken.json()["job_id"])
    other = client.put(f"{first}/content", content=GOOD)
    assert (other.status_code, other.json()["field"]) == (409, "content")
    deadline = time.monotonic() + 60
    while (early := client.put(f"{second}/content", content=GOOD)).status_code == 409:
        assert early.json()["type"] == "/problems/import-at-work"
        assert early.headers["Retry-After"] == "2"
        assert time.monotonic() < deadline
        time.sleep(0.05)
    assert early.status_code == 202


def test_a_cancelled_import_leaves_nothing(fleet, client, car):
    address = client.post("/v1/imports", json={"kind": "odometer-readings"}).headers["Location"]
    rows = "".join(
        f"A,E{n},{1950 + n // 300}-{1 + n // 25 % 12:02d}-{1 + n % 25:02d},{1000 + n},km\n"
        for n in range(20_000)
    )
    job = client.put(f"{address}/content", content=HEAD + rows).headers["Location"]
    assert client.post(f"{job}/cancellation").status_code == 202
    assert fleet.wait_for_job(job)["state"] == "cancelled"
    assert client.get(address).json()["state"] == "cancelled"
    assert items(fleet, f"/v1/vehicles/{car}/odometer-readings") == []
    assert send(fleet, "odometer-readings", GOOD).rows == (1, 1, 0, 0, 0)


def test_random_bytes_are_told_what_is_wrong(fleet, car):
    rng = random.Random(5)  # noqa: S311 - rubbish, no secret
    for number in range(12):
        content = bytearray((GOOD * 3 if number % 2 else GOOD + "{\n" * 3).encode())
        for _ in range(rng.randint(1, 30)):
            content[rng.randrange(len(content))] = rng.randrange(256)
        for file_format in ("csv", "jsonl"):
            sent = send(fleet, "odometer-readings", bytes(content), format=file_format, refresh=False)
            problem = sent.job["problem"]
            assert problem is None or problem["status"] in {409, 422}, json.dumps(problem)


@pytest.mark.parametrize("codec", ["utf-8", "utf-16-le"])
@pytest.mark.parametrize("size", [65_536, 777_777, 1_048_576, 4_000_000])
def test_a_line_that_goes_on_and_on_is_one_bad_row_however_the_file_comes_in_pieces(codec, size):
    whole = '{"a": 1}\n{"a": 2}' + " " * 2_500_000 + '{"a": 3}\n{"a": 4}\n'
    sent = whole.encode(codec)
    pieces = (sent[at : at + size] for at in range(0, len(sent), size))
    assert [row.cells for _, row in texts.json_rows(texts.as_text(pieces, codec))] == [
        {"a": 1},
        None,
        {"a": 4},
    ]
