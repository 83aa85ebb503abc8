"""The joint model of faults by brute force: every set of faults, every showing, written out, nothing shared with the product.

Kept simple on purpose: it walks all combinations of (piece faulty?, faulty piece shows the complaint?, something
else shows it?) and adds up those that agree with the evidence. Exponential, hence only for a handful of parts.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict


def follow_pieces(parts, steps):
    """Every physical part that was in place at some time, with what its checks showed."""
    pieces, in_place, moment, groups = [], {}, 0, []
    for index, part in enumerate(parts):
        in_place[index] = len(pieces)
        pieces.append({"p": part["p"], "c": part["c"], "from": 0, "to": math.inf, "seen": []})
    for step in steps:
        if step[0] == "check":
            pieces[in_place[step[1]]]["seen"].append(step[2:])
            continue
        if step[0] == "group":
            groups.append(([in_place[index] for index in step[1]], *step[2:]))
            continue
        moment += 1
        for index in step[1]:
            pieces[in_place[index]]["to"] = moment
            in_place[index] = len(pieces)
            new = {
                "p": parts[index]["pi0"],
                "c": parts[index]["c"],
                "from": moment,
                "to": math.inf,
                "seen": [],
            }
            pieces.append(new)
    return pieces, in_place, moment, groups


def enumerate_faults(parts, leak, steps):
    """Posterior by enumeration.

    parts: list of dicts(p, c, pi0); steps: ("check", index, shows_bad, sens, spec),
    ("group", indices, shows_bad, sens, spec) for one result of several parts, or ("renew", (indices)).
    Gives dict(evidence, faulty[], cause[], something_else_alone, at_most_one) as joint probabilities.
    """
    pieces, in_place, moment, groups = follow_pieces(parts, steps)
    total = defaultdict(float)
    faulty, cause = [0.0] * len(parts), [0.0] * len(parts)
    # each piece is sound, faulty but silent, or faulty and showing
    for states in itertools.product((0, 1, 2), repeat=len(pieces)):
        weight = 1.0
        for piece, state in zip(pieces, states, strict=True):
            weight *= (1 - piece["p"], piece["p"] * (1 - piece["c"]), piece["p"] * piece["c"])[state]
            for bad, sens, spec in piece["seen"]:
                weight *= (sens if bad else 1 - sens) if state else (1 - spec if bad else spec)
        for looked_at, bad, sens, spec in groups:
            good = spec
            for number in looked_at:
                good *= (1 - sens) / spec if states[number] else 1.0
            weight *= 1 - good if bad else good
        for something_else in (0, 1):
            chance = weight * (leak if something_else else 1 - leak)
            showing = [
                something_else
                or any(s == 2 and p["from"] <= m < p["to"] for p, s in zip(pieces, states, strict=True))
                for m in range(moment + 1)
            ]
            if not all(showing):
                continue
            now = [states[in_place[i]] for i in range(len(parts))]
            total["evidence"] += chance
            for i, state in enumerate(now):
                faulty[i] += chance * (state > 0)
                cause[i] += chance * (state == 2)
            total["something_else_alone"] += chance * (something_else and 2 not in now)
            total["at_most_one"] += chance * (sum(s > 0 for s in now) <= 1)
    return dict(total) | {"faulty": faulty, "cause": cause}


def enumerate_sets(p, c, leak, readings):
    """The same without renewals, straight from the formula P(complaint | set) = 1 - (1 - leak) * prod(1 - c)."""
    evidence, faulty = 0.0, [0.0] * len(p)
    for faults in itertools.product((0, 1), repeat=len(p)):
        chance = math.prod(pi if f else 1 - pi for pi, f in zip(p, faults, strict=True))
        chance *= 1 - (1 - leak) * math.prod(1 - ci for ci, f in zip(c, faults, strict=True) if f)
        for i, bad, sens, spec in readings:
            chance *= (sens if bad else 1 - sens) if faults[i] else (1 - spec if bad else spec)
        evidence += chance
        faulty = [total + chance * f for total, f in zip(faulty, faults, strict=True)]
    return evidence, faulty
