"""The chemistry that the bench sums and the estimate share: oils, fatty acids, excess alkali and equilibria."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.chemistry.equilibrium import LACTIC_PKA, Solution, acid_constant, log_activity, ph
    from monitor.chemistry.excess import Excess, excess_range
    from monitor.chemistry.fatty_acids import (
        CARBONATE_G_PER_MOL,
        GLYCEROL_G_PER_MOL,
        KOH_G_PER_MOL,
        NAOH_G_PER_MOL,
        POTASSIUM_FOR_HYDROGEN_G,
        SODIUM_FOR_HYDROGEN_G,
        WATER_G_PER_MOL,
        CrossCheck,
        FattyAcidProfile,
        all_fatty_acids,
        cross_checks,
        fatty_acid_profile,
        find_oil_rows,
        row_text,
        saponification_of_acid,
        saponification_of_triglyceride,
    )
    from monitor.chemistry.oil_amounts import NAOH_PER_KOH, Portion, portion
    from monitor.chemistry.oils import all_oils, find_oil, other_names
    from monitor.chemistry.paste_alkali import expected_acid_ml, titrated_koh_share
    from monitor.chemistry.validation import (
        AS_CALCULATED,
        FRACTION,
        IN_PERCENT,
        DisplayUnits,
        OutOfRangeError,
        check_range,
        plain_words,
        told_range,
    )

__all__ = [
    "AS_CALCULATED",
    "CARBONATE_G_PER_MOL",
    "FRACTION",
    "GLYCEROL_G_PER_MOL",
    "IN_PERCENT",
    "KOH_G_PER_MOL",
    "LACTIC_PKA",
    "NAOH_G_PER_MOL",
    "NAOH_PER_KOH",
    "POTASSIUM_FOR_HYDROGEN_G",
    "SODIUM_FOR_HYDROGEN_G",
    "WATER_G_PER_MOL",
    "CrossCheck",
    "DisplayUnits",
    "Excess",
    "FattyAcidProfile",
    "OutOfRangeError",
    "Portion",
    "Solution",
    "acid_constant",
    "all_fatty_acids",
    "all_oils",
    "check_range",
    "cross_checks",
    "excess_range",
    "expected_acid_ml",
    "fatty_acid_profile",
    "find_oil",
    "find_oil_rows",
    "log_activity",
    "other_names",
    "ph",
    "plain_words",
    "portion",
    "row_text",
    "saponification_of_acid",
    "saponification_of_triglyceride",
    "titrated_koh_share",
    "told_range",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "equilibrium": ("LACTIC_PKA", "Solution", "acid_constant", "log_activity", "ph"),
            "excess": ("Excess", "excess_range"),
            "fatty_acids": (
                "CARBONATE_G_PER_MOL",
                "CrossCheck",
                "FattyAcidProfile",
                "GLYCEROL_G_PER_MOL",
                "KOH_G_PER_MOL",
                "NAOH_G_PER_MOL",
                "POTASSIUM_FOR_HYDROGEN_G",
                "SODIUM_FOR_HYDROGEN_G",
                "WATER_G_PER_MOL",
                "all_fatty_acids",
                "cross_checks",
                "fatty_acid_profile",
                "find_oil_rows",
                "row_text",
                "saponification_of_acid",
                "saponification_of_triglyceride",
            ),
            "oil_amounts": ("NAOH_PER_KOH", "Portion", "portion"),
            "oils": ("all_oils", "find_oil", "other_names"),
            "paste_alkali": ("expected_acid_ml", "titrated_koh_share"),
            "validation": (
                "AS_CALCULATED",
                "DisplayUnits",
                "FRACTION",
                "IN_PERCENT",
                "OutOfRangeError",
                "check_range",
                "plain_words",
                "told_range",
            ),
        },
    )
