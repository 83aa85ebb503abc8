"""Why the next step is the next step, and what of the suspects is due anyway: sentences, their sums without a currency."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.faults.words import odds_in_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.faults.next_step import Option
    from planner.faults.suspects import Ranking
    from planner.faults.values import Candidate, FaultFinding

NOTHING_SAVED = 0.01
"""A saving below this share of what is still to come is none: the figures are not that good."""


def reason_of(finding: FaultFinding, options: Sequence[Option], ranking: Ranking, saved: float) -> str:
    """Why the first of the options is the next step, in one or two sentences."""
    step = options[0]
    if step.kind == "check":
        return _why_checking(options, saved)
    if step.kind == "renew":
        part = next(one for one in finding.candidates if one.part == step.ref)
        why = _in_all(finding, part) if part.spent_anyway else "no check is worth its cost first"
        return (
            f"Renew {step.name}: {ranking.of(step.ref).odds} that it is the cause, and {why}. "
            "One change at a time; then see whether the complaint is gone."
        )
    if not ranking.suspects:
        return (
            "Nothing on record of this car can cause it, so no check or renewal can be weighed: record the parts that can, "
            "or hand over."
        )
    return (
        f"Hand over: {odds_in_words(ranking.something_else)} that it is something else, and no check or renewal here "
        "is worth its cost."
    )


def _why_checking(options: Sequence[Option], saved: float) -> str:
    step, name = options[0], _begun(options[0].name)
    if saved >= NOTHING_SAVED * step.expected_cost:
        return (
            f"{name} first: your time counted, it costs about {in_round(step.outlay)} and what it shows saves about "
            f"{in_round(saved)} on average."
        )
    instead = next(option for option in options if option.kind != "check")
    if instead.kind == "renew":
        return f"{name} first, though renewing {instead.name} now would come to much the same."
    return f"{name}, if you want to go on yourself: handing over to a specialist now would come to much the same."


def told_as_due(finding: FaultFinding, ranking: Ranking) -> str:
    """A sentence for each part that is due whatever the fault is, or whose own renewal is near; the likeliest suspect first."""
    of = {one.part: one for one in finding.candidates}
    sentences = []
    for suspect in ranking.suspects:
        one = of[suspect.part]
        near = "its own renewal is near anyway" if one.spent_anyway else ""
        if suspect.renewed or not (one.due_anyway or near):
            continue
        sums = f"; {_in_all(finding, one)}" if one.spent_anyway else ""
        sentences.append(f"{_begun(one.name)}: {one.due_anyway or near}{sums}.")
    return " ".join(sentences)


def _in_all(finding: FaultFinding, one: Candidate) -> str:
    now = finding.cost(one)
    return f"renewing it now costs about {in_round(now)} and in all costs about {in_round(now - one.spent_anyway)} more than on its own day"


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]


def in_round(amount: float) -> str:
    """Two significant figures: the sums carry no more."""
    return f"{float(f'{amount:.2g}'):g}"
