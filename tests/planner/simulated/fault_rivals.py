"""Two ways in which faults are usually looked for, as rivals of the planner.

Fixed before the planner was compared with them. Both are told the same chances as the planner (same model, same
posterior after every step), may make the same checks, and may hand over to the same specialist. Each comes in
two variants of when it gives up; the planner has to beat the better of the two.
"""

from planner.faults.search import HAND_OVER, Action, Search, cause_weights
from planner.faults.values import Checked


def just_shown_bad(finding, search, state, weights):
    """The likeliest part that a check showed bad and that has not been renewed, or None.

    A check with one bad result for several parts is settled once one of them was renewed.
    """
    places = {c.part: i for i, c in enumerate(finding.candidates)}
    checks = {check.id: [places[r.part] for r in check.readings] for check in finding.checks}
    bad = set()
    for step in finding.steps:
        if not isinstance(step, Checked):
            continue
        if isinstance(step.shows_bad, bool):
            shown = checks[step.check] if step.shows_bad else []
        else:
            shown = [places[part] for part, shows_bad in step.shows_bad if shows_bad]
        if not set(shown) & set(state.renewed):
            bad |= set(shown)
    return max(bad, key=lambda place: weights[place], default=None)


def check_likeliest_then_renew(finding, *, give_up_at_half):
    """Look at the likeliest part with its most telling check; renew it if it shows bad or nothing is left to check."""
    search = Search(finding)
    state = search.start()
    weights, elsewhere = cause_weights(state)
    bad = just_shown_bad(finding, search, state, weights)
    if bad is not None:
        return Action("renew", bad)
    left = [place for place in range(len(weights)) if place not in state.renewed]
    likeliest = max(left, key=lambda place: weights[place], default=None)
    if likeliest is None or elsewhere > (0.5 if give_up_at_half else weights[likeliest]):
        return HAND_OVER
    telling = [
        (row[likeliest].sensitivity + row[likeliest].specificity, check)
        for check, row in enumerate(search.readings)
        if likeliest in search.open_targets(state, check)
    ]
    return Action("check", max(telling)[1]) if telling else Action("renew", likeliest)


def cheapest_first(finding, *, give_up_at_half):
    """Do whatever costs least; a part that shows bad is renewed, one that shows good is left to the last."""
    search = Search(finding)
    state = search.start()
    weights, elsewhere = cause_weights(state)
    bad = just_shown_bad(finding, search, state, weights)
    if bad is not None:
        return Action("renew", bad)
    if give_up_at_half and elsewhere > 0.5:
        return HAND_OVER
    shown_good = {place for _, place in state.made}
    options = list(search.actions(state))
    first = [a for a in options if a.kind != "renew" or a.index not in shown_good]
    open_work = [a for a in first if a != HAND_OVER]
    return min(
        first if open_work else options, key=lambda action: (search.cost(state, action), action == HAND_OVER)
    )


RIVALS = {
    "check the likeliest, then renew": [
        lambda finding: check_likeliest_then_renew(finding, give_up_at_half=False),
        lambda finding: check_likeliest_then_renew(finding, give_up_at_half=True),
    ],
    "cheapest action first": [
        lambda finding: cheapest_first(finding, give_up_at_half=False),
        lambda finding: cheapest_first(finding, give_up_at_half=True),
    ],
}
