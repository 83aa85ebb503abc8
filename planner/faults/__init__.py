"""Which part is it? Ranks suspects, chooses the next step, and turns a closed case into evidence."""

from planner.faults.cases import SOMETHING_ELSE, CaseEvidence, Closing, FaultCase, PartEvidence
from planner.faults.errors import CaseClosed, ContradictoryResults, FaultError, PartNotOnCar
from planner.faults.next_step import Advice, Option, Outcome, advise
from planner.faults.opening import Book, PartOnCar, accrued_hazard, open_finding
from planner.faults.shares import KnownCause, LearntShares, known_cause, learn_shares
from planner.faults.suspects import Ranking, Suspect, rank
from planner.faults.values import (
    Candidate,
    Check,
    Checked,
    FaultFinding,
    HandOver,
    NotOnRecord,
    Reading,
    Renewed,
)

__all__ = [
    "SOMETHING_ELSE",
    "Advice",
    "Book",
    "Candidate",
    "CaseClosed",
    "CaseEvidence",
    "Check",
    "Checked",
    "Closing",
    "ContradictoryResults",
    "FaultCase",
    "FaultError",
    "FaultFinding",
    "HandOver",
    "KnownCause",
    "LearntShares",
    "NotOnRecord",
    "Option",
    "Outcome",
    "PartEvidence",
    "PartNotOnCar",
    "PartOnCar",
    "Ranking",
    "Reading",
    "Renewed",
    "Suspect",
    "accrued_hazard",
    "advise",
    "known_cause",
    "learn_shares",
    "open_finding",
    "rank",
]
