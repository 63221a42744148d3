"""The chemistry that the bench sums and the estimate share: oils, fatty acids, excess alkali and equilibria."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.chemistry.equilibrium import LACTIC_PKA, Solution, acid_constant, log_activity, ph
    from monitor.chemistry.excess import Excess, excess_range
    from monitor.chemistry.fatty_acid_groups import FATTY_ACID_GROUPS, group_shares, short_chain_share
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
    from monitor.chemistry.iodine import (
        IODINE_G_PER_MOL,
        IodineValue,
        iodine_of_acids,
        iodine_of_oil,
        iodine_of_triglyceride,
        iodine_value,
    )
    from monitor.chemistry.oil_amounts import NAOH_PER_KOH, Portion, portion
    from monitor.chemistry.oils import all_oils, find_oil, other_names
    from monitor.chemistry.validation import check_range

__all__ = [
    "CARBONATE_G_PER_MOL",
    "FATTY_ACID_GROUPS",
    "GLYCEROL_G_PER_MOL",
    "IODINE_G_PER_MOL",
    "KOH_G_PER_MOL",
    "LACTIC_PKA",
    "NAOH_G_PER_MOL",
    "NAOH_PER_KOH",
    "POTASSIUM_FOR_HYDROGEN_G",
    "SODIUM_FOR_HYDROGEN_G",
    "WATER_G_PER_MOL",
    "CrossCheck",
    "Excess",
    "FattyAcidProfile",
    "IodineValue",
    "Portion",
    "Solution",
    "acid_constant",
    "all_fatty_acids",
    "all_oils",
    "check_range",
    "cross_checks",
    "excess_range",
    "fatty_acid_profile",
    "find_oil",
    "find_oil_rows",
    "group_shares",
    "iodine_of_acids",
    "iodine_of_oil",
    "iodine_of_triglyceride",
    "iodine_value",
    "log_activity",
    "other_names",
    "ph",
    "portion",
    "row_text",
    "saponification_of_acid",
    "saponification_of_triglyceride",
    "short_chain_share",
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
            "fatty_acid_groups": ("FATTY_ACID_GROUPS", "group_shares", "short_chain_share"),
            "iodine": (
                "IODINE_G_PER_MOL",
                "IodineValue",
                "iodine_of_acids",
                "iodine_of_oil",
                "iodine_of_triglyceride",
                "iodine_value",
            ),
            "oil_amounts": ("NAOH_PER_KOH", "Portion", "portion"),
            "oils": ("all_oils", "find_oil", "other_names"),
            "validation": ("check_range",),
        },
    )
