"""The sums against what others have published. Each row names its source; a row without one fails."""

import csv
import math
from collections.abc import Mapping
from importlib.resources import files

import pytest

from monitor.chemistry import (
    Solution,
    all_fatty_acids,
    all_oils,
    ph,
    portion,
    saponification_of_acid,
    saponification_of_triglyceride,
)
from monitor.formulation.alkali import ChargeInputs, WeighedAmounts, charge
from monitor.formulation.dilution import dilute
from monitor.formulation.lye_heat import HeatInputs, mixing_heat
from monitor.formulation.mass_balance import cooked_batch
from monitor.formulation.neutralisation import alkali_taken_per_mol
from monitor.formulation.neutralisers import all_neutralisers, find_neutraliser, saturated
from monitor.formulation.titration import TitrationInputs, free_alkali
from tests.formulation.batches import FLAKES_G, single_oil_charge

GREEN_SOAP = (portion("olive", 380, 190.0), portion("oleic acid", 20, 198.63))


def green_soap_excess() -> float:
    inputs = ChargeInputs(GREEN_SOAP, koh_assay=0.85, water_g=400)
    return 100.0 * charge(inputs, WeighedAmounts(koh_g=91.7)).excess.taken


def green_soap_need_of_flakes() -> float:
    return charge(ChargeInputs(GREEN_SOAP, koh_assay=0.85, excess=0.0, water_g=400)).koh_g


def borate_g_per_g_koh(name: str, end_ph: float) -> float:
    reagent = find_neutraliser(name)
    return reagent.g_per_mol / (alkali_taken_per_mol(reagent, end_ph) * 56.1056)


def per_koh(name: str) -> float:
    return find_neutraliser(name).g_per_g_koh


def paste_percent(water_ml: float) -> float:
    made = single_oil_charge(water_g=1300.0 - 600.0 - FLAKES_G)
    return 100.0 * dilute(cooked_batch(made), made.inputs.portions, water_g=water_ml).paste_share


def acid_weight(code: str) -> float:
    return all_fatty_acids()[code].acid_g_per_mol


def borax_ph(temperature_c: float) -> float:
    return ph(Solution(cations=0.02, boron=0.04, temperature_c=temperature_c))


def carbonate_ph(temperature_c: float) -> float:
    return ph(Solution(cations=0.075, carbonate=0.05, temperature_c=temperature_c))


NBS = "NBS values, Bates, J. Res. NBS 66A:179 (1962); table from memory, held against its four-term equation"
IUPAC = "Staples & Bates, J. Res. NBS 73A:37 (1969), IUPAC 2002; 10.012 at 25 degC seen in an abstract"
IDEAL = "ideal equilibrium, computed outside this program beforehand; at another ionic strength, hence 3 %"
TRADE = "check value of the trade: common practice, no source"

# what, ours, theirs, within, source
ROWS = (
    (
        "Green Soap, excess in %",
        green_soap_excess(),
        2.3,
        0.05,
        "worked example of the pharmacopoeia, USP 28 Green Soap",
    ),
    ("Green Soap, flakes needed, g", green_soap_need_of_flakes(), 89.6, 0.05, "the same"),
    ("triolein", saponification_of_triglyceride(acid_weight("C18:1")), 190.09, 0.01, "by its molar mass, 885.45"),
    ("trilaurin", saponification_of_triglyceride(acid_weight("C12:0")), 263.40, 0.01, "by its molar mass, 639.02"),
    ("oleic acid", saponification_of_acid(acid_weight("C18:1")), 198.63, 0.01, "by its molar mass, 282.47"),
    (
        "titration, % KOH",
        free_alkali(TitrationInputs(2.30, 0.1000, 10.00)).koh_percent,
        0.129,
        0.0005,
        "ISO 456, how the result is told; the example by hand",
    ),
    ("citric acid per g KOH", per_koh("citric acid"), 1.141, 0.001, "192.124 / (3 x 56.1056)"),
    ("its monohydrate", per_koh("citric acid monohydrate"), 1.248, 0.001, "210.139 / (3 x 56.1056)"),
    ("boric acid to one half", 2.0 * per_koh("boric acid"), 2.204, 0.001, "2 x 61.833 / 56.1056"),
    ("borax to pH 11", borate_g_per_g_koh("borax", 11.0), 3.48, 0.03 * 3.48, IDEAL),
    ("borax to pH 10.5", borate_g_per_g_koh("borax", 10.5), 3.67, 0.03 * 3.67, IDEAL),
    ("borax to pH 10", borate_g_per_g_koh("borax", 10.0), 4.35, 0.03 * 4.35, IDEAL),
    ("borax to pH 9.5", borate_g_per_g_koh("borax", 9.5), 7.73, 0.03 * 7.73, IDEAL),
    ("0.01 m borax at 0 degC", borax_ph(0.0), 9.464, 0.03, NBS),
    ("0.01 m borax at 25 degC", borax_ph(25.0), 9.180, 0.03, NBS),
    ("0.01 m borax at 40 degC", borax_ph(40.0), 9.068, 0.03, NBS),
    ("0.01 m borax at 60 degC", borax_ph(60.0), 8.96, 0.03, "JIS Z 8802"),
    ("carbonate buffer at 0 degC", carbonate_ph(0.0), 10.317, 0.03, IUPAC),
    ("carbonate buffer at 25 degC", carbonate_ph(25.0), 10.012, 0.03, IUPAC),
    ("carbonate buffer at 50 degC", carbonate_ph(50.0), 9.828, 0.03, IUPAC),
    ("paste in 1200 mL, %", paste_percent(1200.0), 52.0, 0.1, TRADE + ": a little above half"),
    ("paste in 100 mL more, %", paste_percent(1300.0), 50.0, 0.1, TRADE + ": an even half"),
    (
        "borax dissolved at 20 degC, %",
        100 * (saturated(find_neutraliser("borax"), 20) or 0),
        4.71,
        0.01,
        "seen at apug.org",
    ),
    (
        "citric acid dissolved at 20 degC, %",
        100 * (saturated(find_neutraliser("citric acid"), 20) or 0),
        59.2,
        0.1,
        "Apelblat, Citric Acid (2014), as an encyclopedia quotes it",
    ),
)


@pytest.mark.parametrize(("what", "own_value", "published", "within", "source"), ROWS, ids=[row[0] for row in ROWS])
def test_a_published_number_comes_out(
    what: str, own_value: float, published: float, within: float, source: str
) -> None:
    assert source.strip()
    assert math.isclose(own_value, published, rel_tol=0.0, abs_tol=within)


def test_the_heat_of_the_lye_is_the_heat_of_solution_over_the_heat_capacity() -> None:
    # -57.6 kJ/mol: CRC after NSRDS-NBS 2. 100 g of pure KOH in 900 g of water; 3.68 J/(g K): from memory of handbooks.
    heat = mixing_heat(HeatInputs(koh_g=100.0, water_g=900.0, koh_assay=1.0, start_c=20.0))
    rise = 100.0 / 56.1056 * 57_600.0 / (1000.0 * 3.68)
    assert heat.mildest_c < 20.0 + rise < heat.hottest_c
    assert math.isclose(heat.hottest_c - 20.0, rise, rel_tol=0.1)


def rows_of(name: str) -> list[Mapping[str, str]]:
    table = next(
        path for package in ("monitor.chemistry", "monitor.formulation") if (path := files(package) / name).is_file()
    )
    return list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize(
    "name",
    [
        *("oils.csv", "oils_fatty_acids.csv", "fatty_acids.csv", "neutralisers.csv", "solubility.csv"),
        *("acid_constants.csv", "ingredient_names.csv"),
    ],
)
def test_every_row_of_every_table_names_its_source(name: str) -> None:
    rows = rows_of(name)
    assert rows
    for row in rows:
        assert row["source"].strip(), row


def test_every_oil_has_names_for_the_label_and_every_reagent_a_source() -> None:
    assert [row["oil"] for row in rows_of("ingredient_names.csv")] == [row.name for row in all_oils()]
    assert all(reagent.source for reagent in all_neutralisers().values())
