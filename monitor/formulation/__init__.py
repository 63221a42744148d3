"""The bench sums of a batch: alkali, lye heat, dilution, neutralising, bottles and label, with their tables."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.formulation.alkali import Charge, ChargeInputs, WeighedAmounts, charge
    from monitor.formulation.batch_sheet import SheetError, read_sheet, sheet_text
    from monitor.formulation.calendar_file import CalendarEntry, calendar_text
    from monitor.formulation.cautions import (
        PRESERVATIVE,
        Caution,
    )
    from monitor.formulation.clarity_sample import CLARITY_LOOKS, ClaritySample, size_clarity_sample
    from monitor.formulation.dilution import Dilution, dilute
    from monitor.formulation.dosing import NextDose, good_ph, next_dose
    from monitor.formulation.from_cook import (
        BatchState,
        PhReading,
        batch_state,
        charge_inputs,
        charge_of,
        last_ph,
        last_titration,
    )
    from monitor.formulation.hard_water import (
        MOST_DEGREES,
        lime_soap_g,
    )
    from monitor.formulation.haze import (
        NOT_TRIED,
        TRIALS,
        Haze,
        HazeStep,
        judge_haze,
    )
    from monitor.formulation.jar import USUAL_JAR_G, Jar, JarReading, latest_jar
    from monitor.formulation.jar_neutralising import JarDose, jar_dose, jar_line
    from monitor.formulation.label import Label, ingredient_label
    from monitor.formulation.lye_heat import HeatInputs, MixingHeat, mixing_heat
    from monitor.formulation.mass_balance import MassBalance, cooked_batch
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
    from monitor.formulation.oil_mixture import OilFacts, oil_facts
    from monitor.formulation.paste_titration import (
        PASTE_STEPS,
        PasteSample,
        PasteTitration,
        judge_paste_sample,
        plan_paste_sample,
    )
    from monitor.formulation.ph_decision import Decision, decide
    from monitor.formulation.ph_evidence import ph_deviations
    from monitor.formulation.ph_history import DosingHistory, dosing_history, with_ph_reading
    from monitor.formulation.settling import (
        DAY_S,
        SETTLING_ADVICE,
        SOAP_KG_L,
        Additive,
        AdditiveAmounts,
        Bottles,
        Settling,
        additive_amounts,
        bottles,
        settling_plan,
    )
    from monitor.formulation.soap_ph import acid_between, expected_ph, neutral_reading
    from monitor.formulation.stock_solution import Stock, make_stock_solution
    from monitor.formulation.text import to_json_value
    from monitor.formulation.thickening import ThickeningCurve, find_thickener, thickener_names, thickening_curve
    from monitor.formulation.titration import ACID_STRENGTH, TITRATION_STEPS, Titration, TitrationInputs, free_alkali
    from monitor.formulation.units import (
        METRIC,
        OUNCE_G,
        UNIT_CHOICES,
        UnitChoice,
        ounces,
        uk_fluid_ounces,
        us_fluid_ounces,
    )
    from monitor.formulation.vessel_fill import FULL_ENOUGH, VesselFill, cooker_fill

__all__ = [
    "ACID_STRENGTH",
    "CLARITY_LOOKS",
    "DAY_S",
    "FULL_ENOUGH",
    "METRIC",
    "MOST_DEGREES",
    "NOT_TRIED",
    "OUNCE_G",
    "PASTE_STEPS",
    "PRESERVATIVE",
    "SETTLING_ADVICE",
    "SOAP_KG_L",
    "TITRATION_STEPS",
    "TRIALS",
    "UNIT_CHOICES",
    "USUAL_JAR_G",
    "Additive",
    "AdditiveAmounts",
    "BatchState",
    "Bottles",
    "CalendarEntry",
    "Caution",
    "Charge",
    "ChargeInputs",
    "ClaritySample",
    "Decision",
    "Dilution",
    "Dose",
    "DosingHistory",
    "Haze",
    "HazeStep",
    "HeatInputs",
    "Jar",
    "JarDose",
    "JarReading",
    "Label",
    "MassBalance",
    "MixingHeat",
    "NextDose",
    "OilFacts",
    "PasteSample",
    "PasteTitration",
    "PhReading",
    "ResidualAlkali",
    "Settling",
    "SheetError",
    "Stock",
    "ThickeningCurve",
    "Titration",
    "TitrationInputs",
    "UnitChoice",
    "VesselFill",
    "WeighedAmounts",
    "acid_between",
    "additive_amounts",
    "all_neutralisers",
    "batch_state",
    "borate_warning",
    "bottles",
    "calendar_text",
    "charge",
    "charge_inputs",
    "charge_of",
    "checked_dose",
    "cooked_batch",
    "cooker_fill",
    "decide",
    "dilute",
    "dosing_history",
    "expected_ph",
    "find_neutraliser",
    "find_thickener",
    "free_alkali",
    "good_ph",
    "ingredient_label",
    "jar_dose",
    "jar_line",
    "judge_haze",
    "judge_paste_sample",
    "last_ph",
    "last_titration",
    "latest_jar",
    "lime_soap_g",
    "make_stock_solution",
    "mixing_heat",
    "neutral_reading",
    "neutralising_dose",
    "next_dose",
    "oil_facts",
    "ounces",
    "ph_deviations",
    "plan_paste_sample",
    "read_sheet",
    "residual_by_excess",
    "residual_by_titration",
    "settling_plan",
    "sheet_text",
    "size_clarity_sample",
    "thickener_names",
    "thickening_curve",
    "to_json_value",
    "uk_fluid_ounces",
    "us_fluid_ounces",
    "with_ph_reading",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "alkali": ("Charge", "ChargeInputs", "WeighedAmounts", "charge"),
            "batch_sheet": ("SheetError", "read_sheet", "sheet_text"),
            "cautions": (
                "PRESERVATIVE",
                "Caution",
            ),
            "clarity_sample": ("CLARITY_LOOKS", "ClaritySample", "size_clarity_sample"),
            "dilution": ("Dilution", "dilute"),
            "dosing": ("NextDose", "good_ph", "next_dose"),
            "from_cook": (
                "BatchState",
                "PhReading",
                "batch_state",
                "charge_inputs",
                "charge_of",
                "last_ph",
                "last_titration",
            ),
            "jar": ("Jar", "JarReading", "USUAL_JAR_G", "latest_jar"),
            "jar_neutralising": ("JarDose", "jar_dose", "jar_line"),
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
            "oil_mixture": ("OilFacts", "oil_facts"),
            "paste_titration": (
                "PASTE_STEPS",
                "PasteSample",
                "PasteTitration",
                "judge_paste_sample",
                "plan_paste_sample",
            ),
            "ph_decision": ("Decision", "decide"),
            "ph_evidence": ("ph_deviations",),
            "ph_history": ("DosingHistory", "dosing_history", "with_ph_reading"),
            "soap_ph": ("acid_between", "expected_ph", "neutral_reading"),
            "stock_solution": ("Stock", "make_stock_solution"),
            "text": ("to_json_value",),
            "thickening": ("ThickeningCurve", "find_thickener", "thickener_names", "thickening_curve"),
            "titration": ("ACID_STRENGTH", "TITRATION_STEPS", "Titration", "TitrationInputs", "free_alkali"),
            "calendar_file": (
                "CalendarEntry",
                "calendar_text",
            ),
            "mass_balance": (
                "MassBalance",
                "cooked_batch",
            ),
            "vessel_fill": (
                "FULL_ENOUGH",
                "VesselFill",
                "cooker_fill",
            ),
            "settling": (
                "Additive",
                "AdditiveAmounts",
                "Bottles",
                "DAY_S",
                "SETTLING_ADVICE",
                "SOAP_KG_L",
                "Settling",
                "additive_amounts",
                "bottles",
                "settling_plan",
            ),
            "units": (
                "METRIC",
                "OUNCE_G",
                "UNIT_CHOICES",
                "UnitChoice",
                "ounces",
                "uk_fluid_ounces",
                "us_fluid_ounces",
            ),
            "haze": (
                "NOT_TRIED",
                "TRIALS",
                "Haze",
                "HazeStep",
                "judge_haze",
            ),
            "hard_water": (
                "MOST_DEGREES",
                "lime_soap_g",
            ),
        },
    )
