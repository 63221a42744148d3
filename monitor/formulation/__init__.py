"""The bench sums of a batch: alkali, lye heat, dilution, neutralising, bottles and label, with their tables."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.formulation.alkali import Charge, ChargeInputs, Weighed, charge
    from monitor.formulation.batch_sheet import SheetError, read_sheet, sheet_text
    from monitor.formulation.cautions import KOH_INTO_WATER, Caution
    from monitor.formulation.clarity_sample import LOOKS, ClaritySample, size_clarity_sample
    from monitor.formulation.dilution import Dilution, dilute
    from monitor.formulation.excess import Excess
    from monitor.formulation.fatty_acids import (
        CrossCheck,
        Profile,
        all_fatty_acids,
        cross_checks,
        oil_row_of,
        profile_of,
        row_text,
    )
    from monitor.formulation.from_cook import (
        BatchState,
        PhReading,
        batch_state,
        charge_inputs,
        charge_of,
        last_ph,
        last_titration,
    )
    from monitor.formulation.label import Label, ingredient_label
    from monitor.formulation.lye_heat import HeatInputs, MixingHeat, mixing_heat
    from monitor.formulation.neutralisation import (
        Dose,
        ResidualAlkali,
        borate_warning,
        checked_dose,
        neutralising_dose,
        residual_by_excess,
        residual_by_titration,
    )
    from monitor.formulation.neutralisers import all_neutralisers, find_neutraliser
    from monitor.formulation.oil_amounts import Portion, portion
    from monitor.formulation.oils import all_oils, find_oil, names_of
    from monitor.formulation.ph_decision import Decision, decide
    from monitor.formulation.settling import (
        AFTERWARDS,
        SETTLING_DAYS,
        Additive,
        AdditiveAmounts,
        Bottles,
        Settling,
        additions,
        bottles,
        settling_plan,
    )
    from monitor.formulation.stock_solution import Stock, make_stock_solution
    from monitor.formulation.text import plain_text
    from monitor.formulation.titration import HOW, Titration, TitrationInputs, titrated
    from monitor.formulation.units import OUNCE_G, ounces, uk_fluid_ounces, us_fluid_ounces
    from monitor.formulation.validation import within
    from monitor.formulation.vessel_fill import VesselFill, fill

__all__ = [
    "AFTERWARDS",
    "HOW",
    "KOH_INTO_WATER",
    "LOOKS",
    "OUNCE_G",
    "SETTLING_DAYS",
    "Additive",
    "AdditiveAmounts",
    "BatchState",
    "Bottles",
    "Caution",
    "Charge",
    "ChargeInputs",
    "ClaritySample",
    "CrossCheck",
    "Decision",
    "Dilution",
    "Dose",
    "Excess",
    "HeatInputs",
    "Label",
    "MixingHeat",
    "PhReading",
    "Portion",
    "Profile",
    "ResidualAlkali",
    "Settling",
    "SheetError",
    "Stock",
    "Titration",
    "TitrationInputs",
    "VesselFill",
    "Weighed",
    "additions",
    "all_fatty_acids",
    "all_neutralisers",
    "all_oils",
    "batch_state",
    "borate_warning",
    "bottles",
    "charge",
    "charge_inputs",
    "charge_of",
    "checked_dose",
    "cross_checks",
    "decide",
    "dilute",
    "fill",
    "find_neutraliser",
    "find_oil",
    "ingredient_label",
    "last_ph",
    "last_titration",
    "make_stock_solution",
    "mixing_heat",
    "names_of",
    "neutralising_dose",
    "oil_row_of",
    "ounces",
    "plain_text",
    "portion",
    "profile_of",
    "read_sheet",
    "residual_by_excess",
    "residual_by_titration",
    "row_text",
    "settling_plan",
    "sheet_text",
    "size_clarity_sample",
    "titrated",
    "uk_fluid_ounces",
    "us_fluid_ounces",
    "within",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "alkali": ("Charge", "ChargeInputs", "Weighed", "charge"),
        "batch_sheet": ("SheetError", "read_sheet", "sheet_text"),
        "cautions": ("Caution", "KOH_INTO_WATER"),
        "clarity_sample": ("ClaritySample", "LOOKS", "size_clarity_sample"),
        "dilution": ("Dilution", "dilute"),
        "excess": ("Excess",),
        "fatty_acids": (
            "CrossCheck",
            "Profile",
            "all_fatty_acids",
            "cross_checks",
            "oil_row_of",
            "profile_of",
            "row_text",
        ),
        "from_cook": (
            "BatchState",
            "PhReading",
            "batch_state",
            "charge_inputs",
            "charge_of",
            "last_ph",
            "last_titration",
        ),
        "label": ("Label", "ingredient_label"),
        "lye_heat": ("HeatInputs", "MixingHeat", "mixing_heat"),
        "neutralisation": (
            "Dose",
            "ResidualAlkali",
            "borate_warning",
            "checked_dose",
            "neutralising_dose",
            "residual_by_excess",
            "residual_by_titration",
        ),
        "neutralisers": ("all_neutralisers", "find_neutraliser"),
        "oil_amounts": ("Portion", "portion"),
        "oils": ("all_oils", "find_oil", "names_of"),
        "ph_decision": ("Decision", "decide"),
        "settling": (
            "AFTERWARDS",
            "Additive",
            "AdditiveAmounts",
            "Bottles",
            "SETTLING_DAYS",
            "Settling",
            "additions",
            "bottles",
            "settling_plan",
        ),
        "stock_solution": ("Stock", "make_stock_solution"),
        "text": ("plain_text",),
        "titration": ("HOW", "Titration", "TitrationInputs", "titrated"),
        "units": ("OUNCE_G", "ounces", "uk_fluid_ounces", "us_fluid_ounces"),
        "validation": ("within",),
        "vessel_fill": ("VesselFill", "fill"),
    },
)
