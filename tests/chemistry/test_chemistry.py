"""The chemistry against independent libraries: balances, molar masses, equilibria."""

import math
from dataclasses import replace

import periodictable
import pytest
from chempy import balance_stoichiometry
from phreeqpython import PhreeqPython

from monitor.chemistry import (
    CARBONATE_G_PER_MOL,
    GLYCEROL_G_PER_MOL,
    KOH_G_PER_MOL,
    LACTIC_PKA,
    NAOH_G_PER_MOL,
    WATER_G_PER_MOL,
    Solution,
    acid_constant,
    all_fatty_acids,
    ph,
)
from monitor.formulation.neutralisers import all_neutralisers, find_neutraliser

# reagent: its formula, what it is made of with KOH
BALANCES: dict[str, tuple[set[str], set[str]]] = {
    "citric acid anhydrous": ({"C6H8O7", "KOH"}, {"K3C6H5O7", "H2O"}),
    "citric acid monohydrate": ({"C6H10O8", "KOH"}, {"K3C6H5O7", "H2O"}),
    "lactic acid": ({"C3H6O3", "KOH"}, {"KC3H5O3", "H2O"}),
    "oleic acid": ({"C18H34O2", "KOH"}, {"KC18H33O2", "H2O"}),
    "stearic acid": ({"C18H36O2", "KOH"}, {"KC18H35O2", "H2O"}),
    "boric acid": ({"H3BO3", "KOH"}, {"KBO4H4"}),
    "borax decahydrate": ({"Na2B4O17H20", "KOH"}, {"NaBO4H4", "KBO4H4", "H2O"}),
    "borax pentahydrate": ({"Na2B4O12H10", "KOH", "H2O"}, {"NaBO4H4", "KBO4H4"}),
    "borax anhydrous": ({"Na2B4O7", "KOH", "H2O"}, {"NaBO4H4", "KBO4H4"}),
}


def reagent_formula(formulas: set[str]) -> str:
    return next(iter(formulas - {"KOH", "H2O"}))


@pytest.mark.parametrize("name", sorted({reagent.name for reagent in all_neutralisers().values()}))
def test_a_reagent_takes_as_much_alkali_as_its_equation_says(name: str) -> None:
    left, right = BALANCES[name]
    before, _ = balance_stoichiometry(left, right)
    assert int(before["KOH"]) / int(before[reagent_formula(left)]) == find_neutraliser(name).oh_mol


def test_a_triglyceride_takes_three_and_gives_a_glycerol() -> None:
    before, after = balance_stoichiometry({"C57H104O6", "KOH"}, {"KC18H33O2", "C3H8O3"})
    assert [int(before["KOH"]), int(after["KC18H33O2"]), int(after["C3H8O3"])] == [3, 3, 1]


def mass(formula: str) -> float:
    return float(periodictable.formula(formula).mass)


@pytest.mark.parametrize("name", sorted(BALANCES))
def test_the_molar_masses_of_the_reagents(name: str) -> None:
    # 1 in 10 000: the table's atomic masses are a revision older.
    assert math.isclose(find_neutraliser(name).g_per_mol, mass(reagent_formula(BALANCES[name][0])), rel_tol=1e-4)


@pytest.mark.parametrize(
    ("own_value", "formula"),
    [
        (KOH_G_PER_MOL, "KOH"),
        (NAOH_G_PER_MOL, "NaOH"),
        (WATER_G_PER_MOL, "H2O"),
        (GLYCEROL_G_PER_MOL, "C3H8O3"),
        (CARBONATE_G_PER_MOL, "K2CO3"),
    ],
)
def test_the_molar_masses_of_the_rest(own_value: float, formula: str) -> None:
    assert math.isclose(own_value, mass(formula), rel_tol=1e-4)


@pytest.mark.parametrize("code", sorted(all_fatty_acids()))
def test_the_molar_masses_of_the_fatty_acids(code: str) -> None:
    carbons, _, rest = code.removeprefix("C").partition(":")
    double = int(rest.partition("-")[0])
    formula = f"C{carbons}H{2 * int(carbons) - 2 * double}O{3 if rest.endswith('-OH') else 2}"
    assert math.isclose(all_fatty_acids()[code].acid_g_per_mol, mass(formula), rel_tol=1e-5)


# PHREEQC's own database has no citrate or lactate: these are the constants of our table, solved by its engine.
ACIDS = f"""
SOLUTION_MASTER_SPECIES
    Citrate Citrate-3 0 189.1 189.1
    Lactate Lactate- 0 89.07 89.07
SOLUTION_SPECIES
    Citrate-3 = Citrate-3
        log_k 0
    Citrate-3 + H+ = HCitrate-2
        log_k {acid_constant("pKa3_citric", 25)}
    Citrate-3 + 2H+ = H2Citrate-
        log_k {acid_constant("pKa3_citric", 25) + acid_constant("pKa2_citric", 25)}
    Citrate-3 + 3H+ = H3Citrate
        log_k {acid_constant("pKa3_citric", 25) + acid_constant("pKa2_citric", 25) + acid_constant("pKa1_citric", 25)}
    Lactate- = Lactate-
        log_k 0
    Lactate- + H+ = HLactate
        log_k {LACTIC_PKA}
END
"""


@pytest.fixture(scope="module")
def phreeqc() -> PhreeqPython:
    engine = PhreeqPython(database="phreeqc.dat")
    engine.ip.run_string(ACIDS)
    return engine


def phreeqc_ph(engine: PhreeqPython, solution: Solution) -> float:
    amounts: dict[str, object] = {"units": "mol/kgw", "temp": solution.temperature_c, "pH": "9 charge"}
    parts = {"K": solution.cations, "B": solution.boron, "C": solution.carbonate}
    parts |= {"Citrate": solution.citrate, "Lactate": solution.lactate}
    found = engine.add_solution({**amounts, **{name: mol for name, mol in parts.items() if mol}})
    return float(found.pH)


@pytest.mark.parametrize("temperature_c", [20.0, 25.0, 40.0])
@pytest.mark.parametrize(
    "solution",
    [
        Solution(cations=0.01),
        Solution(cations=0.05, boron=0.1),
        Solution(cations=0.018, boron=0.02),
        Solution(cations=0.02, boron=0.2),
        Solution(cations=0.02, carbonate=0.01),
        Solution(cations=0.03, carbonate=0.02),
        Solution(cations=0.025, carbonate=0.01),
        Solution(cations=0.05, carbonate=0.01, boron=0.04),
    ],
    ids=str,
)
def test_borate_and_carbonate_agree_with_phreeqc(
    phreeqc: PhreeqPython, solution: Solution, temperature_c: float
) -> None:
    warmed = replace(solution, temperature_c=temperature_c)
    assert math.isclose(ph(warmed), phreeqc_ph(phreeqc, warmed), abs_tol=0.03)


@pytest.fixture(scope="module")
def pitzer() -> PhreeqPython:
    return PhreeqPython(database="pitzer.dat")


@pytest.mark.parametrize(
    ("solution", "within"),
    [
        (Solution(cations=0.01), 0.01),
        (Solution(cations=0.015, boron=0.02), 0.02),
        (Solution(cations=0.02, boron=0.04), 0.02),
        (Solution(cations=0.015, carbonate=0.01), 0.02),
        (Solution(cations=0.1, carbonate=0.05), 0.02),
        (Solution(cations=0.03, carbonate=0.005, boron=0.02), 0.02),
        # Strong borate forms polyborates, which we leave out: 0.05 mol/kg of borax reads 9.22 there, ours 9.13.
        (Solution(cations=0.1, boron=0.2), 0.1),
    ],
    ids=str,
)
def test_borate_and_carbonate_agree_with_pitzers_equations(
    pitzer: PhreeqPython, solution: Solution, within: float
) -> None:
    # Neither our acid constants nor Davies' equation: PHREEQC's pitzer.dat has its own. It lacks citrate and phosphate.
    assert math.isclose(ph(solution), phreeqc_ph(pitzer, solution), abs_tol=within)


@pytest.mark.parametrize(
    "solution",
    [
        Solution(cations=0.01, citrate=0.01),
        Solution(cations=0.025, citrate=0.01),
        Solution(cations=0.0301, citrate=0.01),
        Solution(cations=0.032, citrate=0.01, carbonate=0.001),
        Solution(cations=0.008, lactate=0.01),
    ],
    ids=str,
)
def test_citrate_and_lactate_agree_with_phreeqc(phreeqc: PhreeqPython, solution: Solution) -> None:
    assert math.isclose(ph(solution), phreeqc_ph(phreeqc, solution), abs_tol=0.03)
