"""Accelerated life on one clock against a published regression and another library."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from lifelines import WeibullAFTFitter

from planner import ClockPrior, LifePrior, Spells
from planner.life.modifiers.fitted import Modifier, fit_modified

INF = np.inf
FLAT = 1e3
"""Spread of priors so wide that the posterior mode is the maximum of the likelihood to many digits."""

# Ovarian cancer: Edmunson et al. 1979, as in R's survival package: (days, died?, treatment, performance status).
OVARIAN = np.array(
    [
        (59, 1, 1, 1), (115, 1, 1, 1), (156, 1, 1, 2), (421, 0, 2, 1), (431, 1, 1, 1), (448, 0, 1, 2), (464, 1, 2, 2),
        (475, 1, 2, 2), (477, 0, 1, 1), (563, 1, 2, 2), (638, 1, 1, 2), (744, 0, 2, 1), (769, 0, 2, 2), (770, 0, 2, 1),
        (803, 0, 1, 1), (855, 0, 1, 2), (1040, 0, 1, 2), (1106, 0, 1, 1), (1129, 0, 2, 1), (1206, 0, 2, 1),
        (1227, 0, 2, 2), (268, 1, 1, 2), (329, 1, 1, 1), (353, 1, 2, 2), (365, 1, 2, 1), (377, 0, 2, 1),
    ],
    dtype=float,
)  # fmt: skip


def flat(*names):
    return [Modifier(name, ("distance",), 1.0, FLAT) for name in names]


def flat_prior(middle):
    return LifePrior(distance=ClockPrior(middle / 3, middle, FLAT, FLAT))


def test_ovarian_weibull_regression():
    # survreg(Surv(futime, fustat) ~ ecog.ps + rx, ovarian, dist = "weibull"): 6.8966931, -0.3850425, 0.5286455, printed in the
    # sparklyr documents beside Spark's own; log-likelihood -97.1 from memory of R's output.
    days, died, treatment, status = OVARIAN.T
    spells = Spells.on_distance(days, np.where(died > 0, days, INF))
    found = fit_modified(spells, np.column_stack([status, treatment]), flat("status", "rx"), flat_prior(500))
    assert np.log(found.life.distance.scale) == pytest.approx(6.8966931, abs=2e-5)
    assert found.gamma == pytest.approx([-0.3850425, 0.5286455], abs=2e-5)
    assert found.life.log_likelihood == pytest.approx(-97.1, abs=0.06)


def test_regression_equals_lifelines():
    random = np.random.default_rng(3)
    x = np.column_stack([random.integers(0, 2, 200), random.normal(0, 1, 200)])
    life = 9 * np.exp(x @ [-0.4, 0.2]) * random.weibull(2.2, 200)
    entry = random.uniform(0, 3, 200)
    seen = life > entry
    x, life, entry = x[seen], life[seen], entry[seen]
    stop = entry + random.uniform(1, 10, len(life))
    end, died = np.minimum(life, stop), life <= stop
    spells = Spells.on_distance(end, np.where(died, end, INF), entry)
    found = fit_modified(spells, x, flat("a", "b"), flat_prior(9))
    frame = pd.DataFrame({"t": end, "died": died, "entry": entry, "a": x[:, 0], "b": x[:, 1]})
    theirs = WeibullAFTFitter().fit(frame, "t", "died", entry_col="entry").params_
    assert np.log(found.life.distance.scale) == pytest.approx(theirs["lambda_", "Intercept"], abs=1e-4)
    assert np.log(found.life.distance.shape) == pytest.approx(theirs["rho_", "Intercept"], abs=1e-4)
    assert found.gamma == pytest.approx([theirs["lambda_", "a"], theirs["lambda_", "b"]], abs=1e-4)
    errors = np.sqrt(np.diag(found.covariance))[2:]
    frame_errors = WeibullAFTFitter().fit(frame, "t", "died", entry_col="entry").standard_errors_["lambda_"]
    assert errors == pytest.approx([frame_errors["a"], frame_errors["b"]], rel=1e-3)
