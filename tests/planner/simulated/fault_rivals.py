"""Two ways in which faults are usually looked for, as rivals of the planner.

Both are told the same chances as the planner (same model, same posterior after every step), may make the same
checks, and may hand over to the same specialist. Each comes as it is named, with handing over as its last resort
when every suspect has been renewed; and in two stronger variants that also know when to give up: once something else
is the likeliest single cause, or once it is likelier than all suspects together. The stronger ones were fixed
before the planner was first compared with anything; the plain ones were added after that, because knowing when to
give up turned out to be most of what the planner's advantage consists of.
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


def check_likeliest_then_renew(finding, *, gives_up="never"):
    """Look at the likeliest part with its most telling check; renew it if it shows bad or nothing is left to check."""
    search = Search(finding)
    state = search.start()
    weights, elsewhere = cause_weights(state)
    bad = just_shown_bad(finding, search, state, weights)
    if bad is not None:
        return Action("renew", bad)
    left = [place for place in range(len(weights)) if place not in state.renewed]
    likeliest = max(left, key=lambda place: weights[place], default=None)
    if likeliest is None or gives_up_now(gives_up, elsewhere, weights[likeliest]):
        return HAND_OVER
    telling = [
        (row[likeliest].sensitivity + row[likeliest].specificity, check)
        for check, row in enumerate(search.readings)
        if likeliest in search.open_targets(state, check)
    ]
    return Action("check", max(telling)[1]) if telling else Action("renew", likeliest)


def cheapest_first(finding, *, gives_up="never"):
    """Do whatever costs least; a part that shows bad is renewed, one that shows good is left to the last."""
    search = Search(finding)
    state = search.start()
    weights, elsewhere = cause_weights(state)
    bad = just_shown_bad(finding, search, state, weights)
    if bad is not None:
        return Action("renew", bad)
    left = [weight for place, weight in enumerate(weights) if place not in state.renewed]
    if not left or gives_up_now(gives_up, elsewhere, max(left)):
        return HAND_OVER
    shown_good = {place for _, place in state.made}
    work = [a for a in search.actions(state) if a != HAND_OVER]
    first = [a for a in work if a.kind != "renew" or a.index not in shown_good]
    return min(first or work, key=lambda action: search.cost(state, action))


def gives_up_now(rule, elsewhere, likeliest):
    return {"never": False, "likeliest": elsewhere > likeliest, "half": elsewhere > 0.5}[rule]


RIVALS = {
    "check the likeliest, then renew": check_likeliest_then_renew,
    "cheapest action first": cheapest_first,
}
