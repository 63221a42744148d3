"""How far the saponification is and how sure that is: prior, kinetics, thermal forecast, posterior, scheduling."""

from monitor.estimation.estimate import Estimate
from monitor.estimation.estimator import Estimator
from monitor.estimation.kinetics import accumulate, arrhenius_factor, mean_mixing_factor, mixing_factor
from monitor.estimation.learning import SCATTERS, CookEvidence, KitchenModel, cook_evidence, fit_kitchen
from monitor.estimation.posterior import (
    NEED_S,
    STIR_INTERVAL_S,
    EquivalentTime,
    Posterior,
    integrate_equivalent_time,
    update_posterior,
    weighted_quantiles,
)
from monitor.estimation.prior import EA, FADE_S, FLOORS, FOLLOWS, LN_NEED, Prior, first_prior
from monitor.estimation.resample import BlockMedian

__all__ = [
    "EA",
    "FADE_S",
    "FLOORS",
    "FOLLOWS",
    "LN_NEED",
    "NEED_S",
    "SCATTERS",
    "STIR_INTERVAL_S",
    "BlockMedian",
    "CookEvidence",
    "EquivalentTime",
    "Estimate",
    "Estimator",
    "KitchenModel",
    "Posterior",
    "Prior",
    "accumulate",
    "arrhenius_factor",
    "cook_evidence",
    "first_prior",
    "fit_kitchen",
    "integrate_equivalent_time",
    "mean_mixing_factor",
    "mixing_factor",
    "update_posterior",
    "weighted_quantiles",
]
