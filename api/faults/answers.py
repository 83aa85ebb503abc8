"""Cases, rankings and advice as answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.bridge.words import priced, significant
from api.faults.case import name_of
from api.faults.shown import (
    FaultFindingItem,
    FaultFindingOut,
    NextStepOut,
    RankingOut,
)
from planner.catalogue import load_catalogue
from planner.faults.words import odds_in_words, to_record

if TYPE_CHECKING:
    from api.storage.tables import FaultFinding as Row
    from planner.faults import Advice, FaultFinding, Option, Ranking, Suspect

_LICENSED = (
    "Work on brakes, steering, fuel and high tension can hurt: follow the maker's manual and local law, and leave what "
    "belongs there to a licensed workshop."
)
CAUTIONS = [
    "These are odds from records and the book, no inspection: a part ranked low can still be the one.",
    _LICENSED,
]


def item(row: Row) -> FaultFindingItem:
    """A case in a list."""
    return FaultFindingItem.model_validate(_plain(row))


def case(
    row: Row, finding: FaultFinding, ranking: Ranking, names: dict[str, str], empty: list[dict[str, Any]]
) -> FaultFindingOut:
    """A case with its suspects.

    Args:
        row: the case.
        finding: the planner's question behind it.
        ranking: its suspects as they stand.
        names: of the checks, by id.
        empty: places of parts that came off and have nothing on record since.
    """
    return FaultFindingOut.model_validate(
        {
            **_plain(row),
            "fault_present": row.fault_present,
            "stop_driving": finding.stop_driving or None,
            "warning": _besides(finding.warning, finding.stop_driving),
            "ranking": ranking_out(row, ranking),
            "not_on_record": [
                {"kind": one.kind, "part": one.name, "share": significant(one.share)}
                for one in finding.not_on_record
            ],
            "record": to_record(finding.not_on_record) or None,
            "shares": _shares(row.opened_with["cases"], row.opened_with["book_share"]),
            "steps": [_step(number, step, row, names) for number, step in enumerate(row.steps, 1)],
            "closing": _closing(row, empty),
            "cautions": CAUTIONS,
        }
    )


def ranking_out(row: Row, ranking: Ranking) -> RankingOut:
    """A ranking; chances to two significant figures."""
    parts = {part["fitment_id"]: part for part in row.opened_with["parts"]}
    return RankingOut.model_validate(
        {
            "suspects": [_suspect(one, parts[one.part]) for one in ranking.suspects],
            "something_else": _chance(ranking.something_else),
            "second_fault": _chance(ranking.two_or_more),
        }
    )


def next_step(row: Row, advice: Advice, currency: str) -> NextStepOut:
    """What to do next."""
    outcomes = [
        {
            "words": one.words,
            **_chance(one.chance),
            "ranking": None if one.ranking is None else ranking_out(row, one.ranking),
        }
        for one in advice.outcomes
    ]
    return NextStepOut.model_validate(
        {
            "finding_id": row.id,
            "currency": currency,
            "step": _option(advice.step),
            "reason": priced(advice.reason, currency),
            "due_anyway": priced(advice.due_anyway, currency) or None,
            "dont_buy_yet": priced(advice.dont_buy_yet, currency) or None,
            "stop_driving": advice.stop_driving or None,
            "warning": _besides(advice.warning, advice.stop_driving),
            "record": advice.record or None,
            "value_of_checking": significant(advice.value_of_checking),
            "outcomes": outcomes,
            "options": [_option(one) for one in advice.options],
            "exact": advice.exact,
            "cautions": CAUTIONS,
        }
    )


def _besides(warning: str, stop_driving: str) -> str | None:
    """What else to mind, where it is not what was said already."""
    return None if warning in ("", stop_driving) else warning


def part_name(row: Row, fitment_id: str) -> str:
    """What the keeper calls a part that was on the car."""
    return name_of(next(part for part in row.opened_with["parts"] if part["fitment_id"] == fitment_id))


def _plain(row: Row) -> dict[str, Any]:
    names = ("id", "vehicle_id", "complaint", "title", "conditions", "last_ran_well", "noted_on", "note")
    state = "open" if row.closed_on is None else "closed"
    plain = {name: getattr(row, name) for name in (*names, "closed_on", "external_ref", "created_at")}
    return {**plain, "state": state}


def _suspect(one: Suspect, part: dict[str, Any]) -> dict[str, Any]:
    kind = load_catalogue()[part["kind"]]
    return {
        "fitment_id": one.part,
        "kind": kind.id,
        "part": kind.name_gb,
        "position": part["position"] or None,
        "chance": significant(one.cause),
        "low": significant(one.low),
        "high": significant(one.high),
        "odds": one.odds,
        "book": None if one.book_cause is None else _chance(one.book_cause),
        "car_ratio": None if one.car_ratio is None else significant(one.car_ratio),
        "check_ratio": significant(one.check_ratio, 3),
        "renewed": one.renewed,
        "reason": one.reason,
        "cautions": list(kind.cautions),
    }


def _chance(chance: float) -> dict[str, Any]:
    return {"chance": significant(chance), "odds": odds_in_words(chance)}


def _shares(cases: int, book_share: float) -> dict[str, Any]:
    if cases == 0:
        words = "All book: no closed case of this complaint taught anything when this one was opened."
    else:
        told = "one closed case" if cases == 1 else f"{cases} closed cases"
        words = (
            f"The book's shares, corrected by {told} of this fleet; {100 * book_share:.0f} % of it is book."
        )
    return {"cases": cases, "book_share": round(book_share, 2), "words": words}


def _closing(row: Row, empty: list[dict[str, Any]]) -> dict[str, Any] | None:
    """How it ended; a case closed before new parts were written down holds none."""
    if not row.closing:
        return None
    places = [{**place, "part": part_name(row, place["fitment_id"])} for place in empty]
    return {"fitted": [], **row.closing, "nothing_in_place": places}


def _step(number: int, step: dict[str, Any], row: Row, names: dict[str, str]) -> dict[str, Any]:
    shown = step.get("shows_bad")
    check_id = step.get("check")
    return {
        "number": number,
        "check": check_id,
        "check_name": None if check_id is None else names[check_id],
        "outcome": step.get("outcome"),
        "shows_bad": dict(shown) if isinstance(shown, list) else None,
        "fault_present": step.get("fault_present"),
        "renewed": step.get("renewed"),
        "cured": step.get("cured"),
        "done_on": step["done_on"],
        "note": step["note"],
        "words": _words(step, row, names),
    }


def _words(step: dict[str, Any], row: Row, names: dict[str, str]) -> str:
    if "check" in step:
        return f"{names[step['check']]}: shows {step['outcome']}"
    parts = ", ".join(part_name(row, part) for part in step["renewed"])
    return f"renewed: {parts}; {'the complaint was gone' if step['cured'] else 'not cured'}"


def _option(one: Option) -> dict[str, Any]:
    figures = {name: getattr(one, name) for name in ("money", "outlay", "expected_cost", "spent_anyway")}
    rounded = {name: significant(value) for name, value in figures.items()}
    plain = {"kind": one.kind, "name": one.name, "minutes": round(one.minutes)}
    return {
        **plain,
        **rounded,
        "ref": one.ref or None,
        "caution": one.caution or None,
        "due_anyway": one.due_anyway or None,
    }
