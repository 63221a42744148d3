"""How far the saponification is and how sure that is: prior, kinetics, thermal forecast, posterior, scheduling."""

from monitor.estimation.cook_forecast import CookForecast, ForecastCheck, ForecastCourse, forecast_cook
from monitor.estimation.equivalent_time import STIR_INTERVAL_S, EquivalentTime, integrate_equivalent_time
from monitor.estimation.estimate import ClearDensity, Estimate
from monitor.estimation.estimator import Estimator
from monitor.estimation.kinetics import accumulate, arrhenius_factor, mean_mixing_factor, mixing_factor
from monitor.estimation.learning import SCATTERS, CookEvidence, KitchenModel, cook_evidence, fit_kitchen
from monitor.estimation.posterior import Posterior, update_posterior
from monitor.estimation.prior import (
    EA,
    EXCESS_EXPONENTS,
    LN_NEED,
    MIXING_FADE_S,
    MIXING_FLOORS,
    NEED_S,
    Prior,
    first_prior,
)
from monitor.estimation.resample import BlockMedian, block_medians
from monitor.estimation.scheduling import Costs, costs_of
from monitor.estimation.stats import weighted_quantiles

__all__ = [
    "EA",
    "EXCESS_EXPONENTS",
    "LN_NEED",
    "MIXING_FADE_S",
    "MIXING_FLOORS",
    "NEED_S",
    "SCATTERS",
    "STIR_INTERVAL_S",
    "BlockMedian",
    "ClearDensity",
    "CookEvidence",
    "CookForecast",
    "Costs",
    "EquivalentTime",
    "Estimate",
    "Estimator",
    "ForecastCheck",
    "ForecastCourse",
    "KitchenModel",
    "Posterior",
    "Prior",
    "accumulate",
    "arrhenius_factor",
    "block_medians",
    "cook_evidence",
    "costs_of",
    "first_prior",
    "fit_kitchen",
    "forecast_cook",
    "integrate_equivalent_time",
    "mean_mixing_factor",
    "mixing_factor",
    "update_posterior",
    "weighted_quantiles",
]
