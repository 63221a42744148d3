"""The bench sums in plain lines, for a person with gloves on: the number first, its caution right under it.

Each function takes a result of ``monitor.formulation`` and returns its lines; oz: whether ounces stand beside grams.
"""

from pathlib import Path
from textwrap import wrap

from monitor.chemistry import CrossCheck, Excess, portion
from monitor.cli.sums_layout import NUMBER, WIDTH, amount_line, caution_lines, grams_of, wrapped
from monitor.formulation import (
    AdditiveAmounts,
    BatchState,
    Bottles,
    Caution,
    Charge,
    ClaritySample,
    Decision,
    Dilution,
    Dose,
    Haze,
    Label,
    MixingHeat,
    NextDose,
    OilFacts,
    PasteSample,
    PasteTitration,
    Settling,
    Stock,
    Titration,
    VesselFill,
    WeighedAmounts,
    oil_facts,
    uk_fluid_ounces,
    us_fluid_ounces,
)
from monitor.model import local


def oils(checks: tuple[CrossCheck, ...]) -> list[str]:
    """The oils table, or rows of it."""
    lines = ["mg of KOH for a gram of oil: lowest, typical (taken), highest"]
    for check in checks:
        row = check.oil
        lines.append(
            f"{row.saponification_low:6.1f} {row.saponification_typical:6.1f} {row.saponification_high:6.1f}  "
            f"{row.name} ({row.kind}); {check.words}"
        )
        if len(checks) == 1:
            lines += wrapped(
                [
                    f"Range: {row.standard}; {row.source}. Surety: {row.confidence}.",
                    f"Typical: {row.typical_source}.",
                    *oil_facts((portion(row.name, 100.0),)).words,
                ]
            )
    if len(checks) > 1:
        lines.append(
            "kettleside sums oils NAME tells where a row comes from, how it was seen, and which acids it holds."
        )
    return lines


def alkali(plan: Charge, weighed: WeighedAmounts, room: VesselFill | None, facts: OilFacts, oz: bool) -> list[str]:
    """The alkali charge, and what its oils are."""
    inputs = plan.inputs
    lines = [amount_line(grams_of(each.grams, oz), each.name) for each in inputs.portions]
    done = " (weighed)" if weighed.koh_g is not None else ""
    lines.append(amount_line(grams_of(plan.koh_g, oz), f"KOH flakes of {inputs.koh_assay:.1%}{done}"))
    if plan.naoh_g:
        done = " (weighed)" if weighed.naoh_g is not None else ""
        lines.append(amount_line(grams_of(plan.naoh_g, oz), f"NaOH of {inputs.naoh_assay:.1%}{done}"))
    lines += caution_lines(plan.cautions, "koh_g")
    lines.append(amount_line(grams_of(plan.water_g, oz), f"water, which makes a lye of {plan.lye_strength:.1%}"))
    lines += caution_lines(plan.cautions, "water_g")
    lines.append(amount_line(grams_of(plan.total_g, oz), "in all, to blend"))
    lines += caution_lines(plan.cautions, "total_g")
    excess = plan.excess
    lines.append(
        f"Excess {_signed(excess.taken)}; 8 in 10 that it is truly from {_signed(excess.likely_low)} to "
        f"{_signed(excess.likely_high)}, at the very ends {_signed(excess.least)} to {_signed(excess.most)}."
    )
    lines += excess_bar(excess)
    lines += wrapped(plan.meaning)
    if plan.more_oil_g >= 0.1:
        lines.append(f"{plan.more_oil_g:.0f} g more of the same oils would bring it back to {_signed(inputs.excess)}.")
    if room:
        lines.append(f"{room.batch_l:.2f} L in a cooker of {room.cooker_l:g} L: {room.filled:.0%} full.")
        lines += caution_lines(room.cautions, "filled")
    return lines + wrapped(facts.words)


def excess_bar(excess: Excess, width: int = 60) -> list[str]:
    """The range of the excess as a line: ends, likely part, the value taken, and nought."""
    low, high = min(excess.least, 0.0) - 0.01, max(excess.most, 0.0) + 0.01

    def place(value: float) -> int:
        return round((value - low) / (high - low) * (width - 1))

    line = [" "] * width
    for column in range(place(excess.least), place(excess.most) + 1):
        line[column] = "-"
    for column in range(place(excess.likely_low), place(excess.likely_high) + 1):
        line[column] = "="
    line[place(excess.taken)] = "o"
    line[place(0.0)] = "|"
    zero = "0 %".rjust(place(0.0) + 2)
    return ["  " + "".join(line).rstrip(), f"  {zero}   oil over to the left, alkali over to the right"]


def heat(result: MixingHeat, oz: bool) -> list[str]:
    """How hot the lye gets."""
    lines = [amount_line(f"{result.mildest_c:.0f}-{result.hottest_c:.0f} °C", "if all the flakes go in at once")]
    lines += caution_lines(result.cautions, "hottest_c")
    parts = "part" if result.parts == 1 else f"parts of {grams_of(result.part_g, oz)} flakes"
    lines.append(amount_line(f"{result.parts}", parts))
    lines += caution_lines(result.cautions, "part_g")
    return lines + wrapped(result.meaning)


def sample(result: ClaritySample, oz: bool) -> list[str]:
    """The clarity sample."""
    lines = [amount_line(grams_of(result.sample_g, oz), "paste")]
    lines += caution_lines(result.cautions, "sample_g")
    lines.append(amount_line(grams_of(result.water_g, oz), "boiling water"))
    lines += caution_lines(result.cautions, "water_g")
    for look in result.looks:
        lines += wrapped([f"{look.seen.capitalize()}: {look.means}. {look.then} Log it as {look.result}."])
    return lines


def _pot_lines(now: BatchState, oz: bool) -> list[str]:
    pot = now.pot
    lines = [
        f"In the pot: {grams_of(pot.total_g, oz)}, of it {pot.soap_share:.1%} real soap; "
        f"{pot.paste_share:.0%} is paste.",
    ]
    if now.water_added_g or now.sampled_g:
        lines.append(
            f"Logged: {grams_of(now.water_added_g, oz)} water in, {grams_of(now.sampled_g, oz)} taken as samples."
        )
    if now.paste_g is not None:
        lines.append(
            f"The paste weighed {grams_of(now.paste_g, oz)}; {grams_of(now.lost_g, oz)} of water had boiled off."
        )
    elif now.lost_g:
        lines.append(f"Boiled off: {grams_of(now.lost_g, oz)}.")
    lines += [f"{name} is not in the table: it counts by its weight alone." for name in now.unknown]
    return [*lines, *wrapped(now.caveats)]


def dilution(now: BatchState, result: Dilution, oz: bool) -> list[str]:
    """Water for a strength."""
    lines = _pot_lines(now, oz)
    fluid = (
        f" ({us_fluid_ounces(result.water_g):.1f} US or {uk_fluid_ounces(result.water_g):.1f} UK fl oz)" if oz else ""
    )
    lines.append(amount_line(grams_of(result.water_g, oz), f"water to add{fluid}"))
    lines += caution_lines(result.cautions, "water_g")
    lines.append(amount_line(grams_of(result.product_g, oz), "in all"))
    lines += caution_lines(result.cautions, "product_g")
    lines += wrapped(result.meaning)
    return lines + wrapped([f"Fluid when cold up to about {result.fluid_up_to:.0%}: {result.fluid_words}."])


def haze(now: BatchState, result: Haze, oz: bool) -> list[str]:
    """What may be the cause of haze, and each step with its cautions."""
    lines = [*_pot_lines(now, oz), *wrapped(result.causes)]
    for number, step in enumerate(result.steps, 1):
        lines += wrapped([f"{number}. {step.what}: {step.why}"])
        lines += caution_lines(tuple(Caution("", words) for words in step.cautions), "")
    return lines


def titration(result: Titration) -> list[str]:
    """Free alkali by titration."""
    lines = [amount_line(f"{result.koh_percent:.3f} %", f"KOH free, within {result.within_percent:.3f}")]
    lines += caution_lines(result.cautions, "acid_ml")
    return lines + [
        line for step in result.how for line in wrap(step, WIDTH, initial_indent="- ", subsequent_indent="  ")
    ]


def paste(sample: PasteSample, found: PasteTitration | None) -> list[str]:
    """A titrated sample of the cooking paste."""
    lines = [amount_line(f"{sample.sample_g:g} g", "paste"), *caution_lines(sample.cautions, "sample_g")]
    if found is not None:
        lines += [
            amount_line(f"{found.koh_percent:.2f} %", f"KOH free, within {found.within_percent:.2f}"),
            amount_line(f"{found.converted:.0%}", "of the oils is soap, by the weights; the likely excess leaves open"),
            f"{'':{NUMBER}}  {found.converted_low:.0%} to {found.converted_high:.0%}",
        ]
    lines += [
        amount_line(
            f"{each.acid_ml:.2f} mL",
            f"acid to expect at {each.converted:.0%}, {each.least_ml:.2f} to {each.most_ml:.2f} by the likely excess",
        )
        for each in sample.expected
    ]
    lines += caution_lines(sample.cautions, "acid_ml")
    return lines + [
        line for step in sample.how for line in wrap(step, WIDTH, initial_indent="- ", subsequent_indent="  ")
    ]


def dose(now: BatchState, result: Dose, oz: bool) -> list[str]:
    """What neutralises."""
    over = result.residual_alkali
    lines = [
        *_pot_lines(now, oz),
        f"KOH over before any neutraliser, by the {over.ground}: {over.low_g:.1f} to {over.high_g:.1f} g.",
        amount_line(grams_of(result.reagent_g, oz), f"{result.reagent} for the middle of it"),
        *caution_lines(result.cautions, "reagent_g"),
        *wrapped(result.meaning),
    ]
    for number, part in enumerate(result.parts, 1):
        of_stock = "" if part.stock_g is None else f", which is {grams_of(part.stock_g, oz)} of the stock"
        lines.append(amount_line(grams_of(part.reagent_g, oz), f"part {number}{of_stock}"))
        lines += wrap(part.then, WIDTH, initial_indent=" " * 14, subsequent_indent=" " * 14)
    lines += wrapped([f"Before: {result.ph_before.words}"])
    after = result.ph_after
    return [*lines, f"After the parts: about {after.middle:.1f}, from {after.low:.1f} to {after.high:.1f}."]


def next_dose(now: BatchState, result: NextDose, oz: bool) -> list[str]:
    """The next dose by the pH."""
    lines = _pot_lines(now, oz)
    if result.word == "dose":
        of_stock = "" if result.stock_g is None else f", which is {grams_of(result.stock_g, oz)} of the stock"
        lines.append(amount_line(grams_of(result.dose_g, oz), f"{result.reagent} now{of_stock}"))
        lines += caution_lines(result.cautions, "reagent_g")
        low, middle, high = (f"{grams / 10.0:.2g}" for grams in result.g_per_ph)
        lines.append(f"To pH {result.target_ph:g}; a tenth of a pH takes {middle} g, likely {low} to {high} g.")
    return lines + wrapped(result.meaning)


def decision(result: Decision) -> list[str]:
    """What a pH asks for."""
    return [
        amount_line(f"pH {result.ph:.2f}", result.word),
        *caution_lines(result.cautions, "ph"),
        *wrapped(result.meaning),
    ]


def stock(result: Stock, oz: bool) -> list[str]:
    """A stock solution."""
    lines = [
        amount_line(grams_of(result.reagent_g, oz), result.reagent),
        *caution_lines(result.cautions, "reagent_g"),
    ]
    return [*lines, amount_line(grams_of(result.water_g, oz), "water"), *wrapped(result.meaning)]


def settle(result: Settling, calendar: Path | None) -> list[str]:
    """The reminder."""
    lines = [f"Look at it on {local(result.look_at):%A %d %B %Y}.", *wrapped(result.words)]
    return [*lines, f"The reminder is in {calendar}: open it on the phone."] if calendar else lines


def bottles(added: AdditiveAmounts, result: Bottles, oz: bool) -> list[str]:
    """Additions and bottles."""
    lines = [amount_line(grams_of(each.grams, oz), each.what) for each in added.grams]
    lines += caution_lines(added.cautions, "grams")
    over = f"{result.over_ml:.0f} mL" + (f" ({us_fluid_ounces(result.over_ml):.1f} US fl oz)" if oz else "")
    return [*lines, amount_line(f"{result.full}", f"bottles of {result.bottle_ml:g} mL, and {over} over")]


def label(result: Label, oz: bool) -> list[str]:
    """The label's text."""
    fluid = f" ({us_fluid_ounces(result.contents_ml):.1f} US fl oz)" if oz else ""
    head = [result.title, f"{result.contents_ml:g} mL{fluid}"]
    head += [f"Lot {result.lot}"] if result.lot else []
    head += [f"Made {result.made}"] if result.made else []
    table = [f"{each.share:8.2%}  {each.common}" for each in result.ingredients]
    lists = wrapped([f"Ingredients: {result.common_list}.", f"Ingredients: {result.listed}."])
    return [*head, *lists, "", *table, *caution_lines(result.cautions, "ingredients")]


def _signed(share: float) -> str:
    """A fraction in per cent with its sign, a true minus and a thin space before the unit."""
    return f"{100.0 * share:+z.1f}\u2009%".replace("-", "\N{MINUS SIGN}")
