"""The chemistry that the bench sums and the estimate share: oils, fatty acids, excess alkali and equilibria."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.chemistry.acid_soap import ACID_SOAP_PER_PH
    from monitor.chemistry.diluted_paste import diluted_paste_ph
    from monitor.chemistry.equilibrium import LACTIC_PKA, Solution, acid_at, acid_constant, log_activity, ph
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
    from monitor.chemistry.soap_alkalinity import (
        NO_OFFSET,
        PhEstimate,
        PhOffset,
        acid_between_readings,
        expected_reading,
        learned_offset,
    )
    from monitor.chemistry.validation import check_range

__all__ = [
    "ACID_SOAP_PER_PH",
    "CARBONATE_G_PER_MOL",
    "GLYCEROL_G_PER_MOL",
    "KOH_G_PER_MOL",
    "LACTIC_PKA",
    "NAOH_G_PER_MOL",
    "NAOH_PER_KOH",
    "NO_OFFSET",
    "POTASSIUM_FOR_HYDROGEN_G",
    "SODIUM_FOR_HYDROGEN_G",
    "WATER_G_PER_MOL",
    "CrossCheck",
    "Excess",
    "FattyAcidProfile",
    "PhEstimate",
    "PhOffset",
    "Portion",
    "Solution",
    "acid_at",
    "acid_between_readings",
    "acid_constant",
    "all_fatty_acids",
    "all_oils",
    "check_range",
    "cross_checks",
    "diluted_paste_ph",
    "excess_range",
    "expected_reading",
    "fatty_acid_profile",
    "find_oil",
    "find_oil_rows",
    "learned_offset",
    "log_activity",
    "other_names",
    "ph",
    "portion",
    "row_text",
    "saponification_of_acid",
    "saponification_of_triglyceride",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "acid_soap": ("ACID_SOAP_PER_PH",),
            "diluted_paste": ("diluted_paste_ph",),
            "equilibrium": ("LACTIC_PKA", "Solution", "acid_at", "acid_constant", "log_activity", "ph"),
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
            "soap_alkalinity": (
                "NO_OFFSET",
                "PhEstimate",
                "PhOffset",
                "acid_between_readings",
                "expected_reading",
                "learned_offset",
            ),
            "validation": ("check_range",),
        },
    )
