"""A batch that stayed hazy: which causes its sums leave open, and what can be done, from the mildest step on.

The order of the steps and what a warmed and a diluted sample show are common practice without a source; each amount is
a sum of this package.
"""

from dataclasses import dataclass, replace

from monitor.chemistry import LONG_SATURATED, group_shares
from monitor.formulation.alkali import Charge
from monitor.formulation.cautions import (
    BOILING_WATER,
    HOT_PASTE,
    KOH_BURNS,
    KOH_INTO_WATER,
    PRESERVATIVE,
    SKIN,
)
from monitor.formulation.fluidity import SOURCE, fluid_up_to
from monitor.formulation.hard_water import lime_soap_g
from monitor.formulation.mass_balance import MassBalance

PRACTICE = "common practice, no source"
# How a sample looks in a jar at 50 degC, and a spoon of it in twice its weight of warm distilled water.
NOT_TRIED, CLEARS, STAYS = "not tried", "clears", "stays hazy"
TRIALS = (NOT_TRIED, CLEARS, STAYS)
# Share of palmitic, stearic and longer acids from which their soaps cloud a kitchen's cold corner (common practice).
MUCH_LONG = 0.15
# Of the oils: refined ones hold less that no alkali takes, and it stays dissolved in their soap (judgement).
MUCH_REST = 0.02
# Excess that a rescue with lye aims at: enough to react with all oil, as a usual charge has (common practice).
AIM_EXCESS = 0.01
MAKE_SURE = "Titrate a sample before and after: nothing else tells whether oil or lye is over."


@dataclass(frozen=True, slots=True)
class HazeStep:
    """One step. what: its heading; why: what the sums say of it; cautions: to be read before it is done."""

    what: str
    why: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Haze:
    """What the sums leave open, and the steps, the mildest first.

    oil_over_g: unreacted oil at the lowest, the taken and the highest likely excess of the charge, g. lye_koh_g: flakes
    that such oil takes at the taken excess, g, 0 where none is over. thin_water_g: water down to the strength at which
    this soap stays fluid, g. strength, fluid_up_to: real soap now and there, mass fractions. long_share: of palmitic,
    stearic and longer acids, None where not known. lime_g: soap bound by hard water, g. rest_g: matter that no alkali
    takes, g; rest_share: of the oils.
    """

    oil_over_g: tuple[float, float, float]
    lye_koh_g: float
    thin_water_g: float
    strength: float
    fluid_up_to: float
    long_share: float | None
    lime_g: float
    rest_g: float
    rest_share: float
    causes: tuple[str, ...]
    steps: tuple[HazeStep, ...]


def judge_haze(
    charge: Charge,
    pot: MassBalance,
    *,
    tap_water_g: float = 0.0,
    hardness_dh: float = 0.0,
    warmed: str = NOT_TRIED,
    thinned: str = NOT_TRIED,
    free_koh_percent: float | None = None,
) -> Haze:
    """What the sums of a hazy batch allow.

    Parameters
    ----------
    charge, pot : what went in, and what is there now.
    tap_water_g, hardness_dh : as in ``lime_soap_g``.
    warmed, thinned : one of TRIALS.
    free_koh_percent : free alkali by titration, per cent of KOH; None where it was not titrated.

    Raises ValueError outside these ranges.
    """
    for name, trial in (("warmed", warmed), ("thinned", thinned)):
        if trial not in TRIALS:
            raise ValueError(f"{name} is {trial!r}; it must be one of {', '.join(TRIALS)}")
    excess = charge.excess
    low, taken, high = (max(-one, 0.0) * charge.oil_g for one in (excess.likely_high, excess.taken, excess.likely_low))
    short = max(AIM_EXCESS - excess.taken, 0.0) if excess.taken < 0.0 else 0.0
    limit, _ = fluid_up_to(charge.inputs.portions)
    shares = group_shares(charge.inputs.portions)
    found = Haze(
        oil_over_g=(low, taken, high),
        lye_koh_g=short * charge.need_koh_g / charge.inputs.koh_in_flakes,
        thin_water_g=max(pot.soap_g / limit - pot.total_g, 0.0),
        strength=pot.soap_share,
        fluid_up_to=limit,
        long_share=shares[LONG_SATURATED.name] if shares else None,
        lime_g=min(lime_soap_g(tap_water_g, hardness_dh, pot.soap_g / pot.soap_mol), pot.soap_g),
        rest_g=pot.rest_g,
        rest_share=pot.rest_g / charge.oil_g,
        causes=(),
        steps=(),
    )
    lye_over = free_koh_percent is not None and free_koh_percent > 0.0
    titrated, neutralised = free_koh_percent is not None, bool(pot.reagents)
    return _with_words(found, warmed, thinned, lye_over, titrated=titrated, neutralised=neutralised)


def _with_words(found: Haze, warmed: str, thinned: str, lye_over: bool, *, titrated: bool, neutralised: bool) -> Haze:
    causes, steps = [], [_trial_step(warmed, thinned)]
    much_rest = found.rest_share > MUCH_REST
    if found.long_share is not None and found.long_share >= MUCH_LONG and warmed != STAYS:
        causes.append(
            f"{found.long_share:.0%} palmitic, stearic and longer acids: their soaps come out in the cold ({PRACTICE})."
        )
    if found.thin_water_g > 0.0 and thinned != STAYS:
        causes.append(f"{found.strength:.0%} real soap, and this one stays fluid up to about {found.fluid_up_to:.0%}.")
        steps.append(_thin_step(found))
    if found.lime_g > 0.0:
        causes.append(f"Hard water has bound {found.lime_g:.1f} g of soap as lime soap, which no heat clears.")
    if found.lime_g > 0.0 or much_rest or warmed == STAYS:
        steps.append(_settle_step(found))
    if much_rest:
        causes.append(f"{found.rest_g:.0f} g of the oils is matter that no alkali takes; some of it stays as haze.")
    oil = found.oil_over_g[2]
    if oil > 0.0 and not lye_over and warmed != CLEARS:
        causes.append(f"Oil may be over: {found.oil_over_g[0]:.0f} to {oil:.0f} g by the likely excess of the charge.")
    if warmed != CLEARS:
        steps.append(_cook_step(lye_over))
        steps += [_lye_step(found, titrated)] if not lye_over and oil > 0.0 else []
    if neutralised:
        causes.append("A neutraliser went in: too much of it sets fatty acid free, which is haze too. Read the pH.")
    causes = causes or ["No sum explains it: undercooked paste, or lime and dust in the bottles, are left."]
    return replace(found, causes=tuple(causes), steps=tuple(steps))


def _trial_step(warmed: str, thinned: str) -> HazeStep:
    told = {CLEARS: "the cold or the strength is the cause", STAYS: "oil, lime or undercooked paste is left"}
    known = f" Warmed it {warmed}: {told[warmed]}." if warmed in told else ""
    known += f" Thinned it {thinned}." if thinned in told else ""
    why = "A jar, its lid loose, in water of 50 °C for a quarter of an hour; then a spoon in twice its weight of warm"
    return HazeStep("Try a sample first", f"{why} distilled water ({PRACTICE}).{known}", (HOT_WATER,))


HOT_WATER = "Hot glass breaks and scalds: warm the jar together with its water."


def _thin_step(found: Haze) -> HazeStep:
    why = f"Distilled water, {found.thin_water_g:.0f} g in all, hot and in parts; look at a cold sample after each."
    return HazeStep("Thin it", f"{why} The limit is {SOURCE}.", (BOILING_WATER, PRESERVATIVE))


def _settle_step(found: Haze) -> HazeStep:
    lime = (
        f" {found.lime_g:.1f} g of lime soap is bound for good; the next batch takes distilled water."
        if found.lime_g
        else ""
    )
    why = f"A week cool and closed, then pour off the clear or filter through paper ({PRACTICE}).{lime}"
    return HazeStep("Let it settle and filter", why, (PRESERVATIVE,))


def _cook_step(lye_over: bool) -> HazeStep:
    why = "Back into the cooker at the heat of the cook, lid on, stirred, and the clarity check each half hour"
    more = (
        "; lye is over, so oil that is left still finds it." if lye_over else "; it helps only while some lye is free."
    )
    return HazeStep("Cook it on", f"{why}{more} Replace water that boils off.", (HOT_PASTE, BOILING_WATER))


def _lye_step(found: Haze, titrated: bool) -> HazeStep:
    if found.lye_koh_g <= 0.0:
        why = "The charge had lye enough by its weights, so no amount follows from them. Do not add any by guess."
        return HazeStep("No lye by guess", f"{why} {MAKE_SURE}", (KOH_BURNS,))
    dose = f"By the weights {found.oil_over_g[1]:.0f} g of oil found no lye; {found.lye_koh_g:.1f} g of flakes in ten"
    why = f"{dose} times as much distilled water would leave {AIM_EXCESS:.0%} in excess; cook on until it is clear."
    sure = "" if titrated else f" {MAKE_SURE}"
    return HazeStep("Lye for the oil that is over", f"{why}{sure}", (KOH_BURNS, KOH_INTO_WATER, HOT_PASTE, SKIN))
