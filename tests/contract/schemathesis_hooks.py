"""What a client of ours knows and a schema cannot say: how days are written and when cars lived, that a key is used once."""

import re
import uuid
from datetime import UTC, date, datetime, timedelta

import schemathesis
from hypothesis import strategies as st

_DAYS = st.dates(date(1900, 1, 1), date(2020, 12, 31)).map(str)
_YEARS = st.integers(1900, 2020).map(str)
_MONTHS = st.builds("{}-{:02d}".format, _YEARS, st.integers(1, 12))
_POINTS = st.builds("{}{}".format, st.one_of(_YEARS, _MONTHS, _DAYS), st.sampled_from(["", "~", "?", "%"]))
_OPEN_RANGES = st.one_of(_YEARS.map("../{}".format), _YEARS.map("{}/..".format))

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_POINT = re.compile(r"[0-9./~?%-]{4,22}", re.ASCII)

schemathesis.openapi.format("date", _DAYS)
schemathesis.openapi.format("iso8601-2", st.one_of(_POINTS, _OPEN_RANGES))


@schemathesis.hook
def before_call(context, case, kwargs):
    """Keep the rules that run over two fields, which a schema cannot say; each has tests of its own."""
    if case.headers and "Idempotency-Key" in case.headers:
        case.headers["Idempotency-Key"] = str(uuid.uuid4())
    _ask_in_pairs(case.query or {})
    _ask_within_all_plans(case.query or {})
    if case.path.endswith("/tour-risk"):
        _ask_about_one_tour_ahead(case.query or {})
    if isinstance(case.body, dict):
        _let_it_have_happened(case.body)
        _plan_ahead(case.body)
        _widen_instrument(case.body)
        _take_from_a_donor(case.body)
        _move_each_part_once(case.body)
        _let_failure_cost_more(case.body)
        _find_a_fault(case.body)
        _lead_outside(case.body)
        _share_a_complaint(case.body)
        _go_somewhere(case.body)
        _map_to_own_fields(case.body)
        _show_papers_of_what_is_asked(case.body)


def _ask_in_pairs(query):
    """A unit belongs to a distance, a season has two ends, and a check is one part's."""
    if "fitment" not in query:
        query.pop("check_cost", None)
    if "distance" not in query:
        query.pop("unit", None)
    if len({"season_start", "season_end"} & query.keys()) == 1:
        query.pop("season_start", None)
        query.pop("season_end", None)


def _ask_within_all_plans(query):
    """No plan goes beyond 2150."""
    for name in ("as_of", "starts_on", "ends_on"):
        if isinstance(query.get(name), str) and _DAY.fullmatch(query[name]) and query[name] > "2150-01-01":
            query[name] = "2026-05-17"


def _ask_about_one_tour_ahead(query):
    """A tour is stored, or told in the question and not over yet."""
    today = datetime.now(UTC).date()
    starts = query.get("starts_on")
    if isinstance(starts, str) and _DAY.fullmatch(starts) and starts < str(today):
        query["starts_on"] = str(today + timedelta(days=30))
    if {"distance", "days", "starts_on", "unit"} & query.keys():
        query.pop("planned_use", None)


def _let_it_have_happened(body):
    """What is recorded has happened; a part was made before it was fitted, a car built before it was joined."""
    today = datetime.now(UTC).date().isoformat()
    for name in (
        *("read_on", "inspected_on", "repaired_on", "removed_on", "fitted_on", "made_on", "joined_on"),
        *("done_on", "closed_on", "moved_on"),
    ):
        if isinstance(body.get(name), str) and _DAY.fullmatch(body[name]) and body[name] > today:
            body[name] = "2020-05-17"
    made, fitted = body.get("made_on"), body.get("fitted_on")
    if isinstance(made, str) and isinstance(fitted, str) and made > fitted:
        body["made_on"] = None
    joined = body.get("joined_on")
    if isinstance(body.get("built"), str) and isinstance(joined, str) and _DAY.fullmatch(joined):
        body["joined_on"] = "2021-05-17"


def _share_a_complaint(body):
    """Only a part renewed on suspicion, or reported to have failed, shares a complaint with others."""
    if body.get("reason") not in ("on suspicion", "failed, as reported"):
        body.pop("shared_event", None)
    if body.get("shared_event") is None:
        body.pop("complaint_fit", None)


def _plan_ahead(body):
    """What is put off is put off until a day to come."""
    if isinstance(body.get("until"), str) and _DAY.fullmatch(body["until"]):
        body["until"] = (datetime.now(UTC) + timedelta(days=100)).date().isoformat()


def _widen_instrument(body):
    """An instrument has digits enough for what it shows."""
    reading, digits = body.get("reading"), body.get("dial_digits")
    value = reading.get("value") if isinstance(reading, dict) else None
    if (
        type(digits) in (int, float)
        and type(value) in (int, float)
        and 4 <= digits <= 7
        and value >= 10**digits
    ):
        body["dial_digits"] = 7


def _take_from_a_donor(body):
    """Only a second-hand part has a donor."""
    if body.get("donor") is not None and body.get("condition") in [None, "new", "rebuilt", "new old stock"]:
        body["condition"] = "second-hand"


def _move_each_part_once(body):
    """Of parts that move, each is named once."""
    parts = body.get("parts")
    if "from_vehicle_id" in body and isinstance(parts, list):
        named = [one.get("fitment_id") if isinstance(one, dict) else one for one in parts]
        if any(one in named[:place] for place, one in enumerate(named)):
            body["parts"] = parts[:1]


def _let_failure_cost_more(body):
    """A failure costs no less than the planned work."""
    costs = body.get("costs")
    if not isinstance(costs, dict):
        return
    planned, failure = costs.get("planned"), costs.get("failure")
    if type(planned) in (int, float) and type(failure) in (int, float) and 0 <= failure < planned:
        costs["failure"] = planned


def _find_a_fault(body):
    """A fault came up after the car ran well, a check tells something, a ban on driving has its reason, a cure its parts."""
    for name, day in (("last_ran_well", "2020-05-17"), ("noted_on", "2020-06-17")):
        if isinstance(body.get(name), str) and _DAY.fullmatch(body[name]):
            body[name] = day
    bad, good = body.get("sensitivity"), body.get("specificity")
    if type(bad) in (int, float) and type(good) in (int, float) and 0 < bad < 1 and 0 < good < 1:
        body["specificity"] = good if bad + good > 1.01 else 0.999
    if body.get("stop_driving") is True and not body.get("warning"):
        body["warning"] = "Do not drive it."
    if body.get("needs_running") is True and body.get("needs_dead") is True:
        body["needs_dead"] = False
    if body.get("cured") is False and isinstance(body.get("by"), list):
        body.pop("by")


def _lead_outside(body):
    """A webhook leads to a host of the public internet; where a name leads no schema can say."""
    url = body.get("url")
    if isinstance(url, str) and re.fullmatch(r"https?://[!-~]+", url) and len(url) <= 2000:
        body["url"] = "https://hooks.garage.example/wearwright"


def _go_somewhere(body):
    """A tour has a distance, and a lay-up none; neither ends before it begins."""
    if body.get("what") == "tour" and body.get("distance", None) is None:
        body["distance"] = {"value": 800, "unit": "km"}
    if body.get("what") == "lay-up" and isinstance(body.get("distance"), dict):
        body["distance"] = None
    days = [body.get(name) for name in ("starts_on", "ends_on")]
    if all(isinstance(one, str) and _DAY.fullmatch(one) for one in days):
        body["starts_on"], body["ends_on"] = "2027-06-01", "2027-06-21"


def _map_to_own_fields(body):
    """Columns are mapped to fields of the kind of record that the file holds."""
    mapping = body.get("mapping")
    if "kind" in body and isinstance(mapping, dict) and all(_is_name(one) for one in mapping.values()):
        body["mapping"] = {}


def _is_name(value):
    return value is None or (isinstance(value, str) and 1 <= len(value) <= 60)


def _show_papers_of_what_is_asked(body):
    """A buyer's papers are of the kinds that are asked about, one for each, fitted after any car here was built."""
    papers, kinds = body.get("papers"), body.get("kinds")
    if not isinstance(papers, list):
        return
    if not all(isinstance(paper, dict) and isinstance(paper.get("kind"), str) for paper in papers):
        return
    asked = [kind for kind in kinds if isinstance(kind, str)] if isinstance(kinds, list) else []
    asked = list(dict.fromkeys(asked or [paper["kind"] for paper in papers]))
    body["papers"] = [{**paper, "kind": kind} for paper, kind in zip(papers, asked, strict=False)]
    for paper in body["papers"]:
        if isinstance(paper.get("fitted_on"), str) and _POINT.fullmatch(paper["fitted_on"]):
            paper["fitted_on"] = "2021-05-17"
