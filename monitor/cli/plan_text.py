"""Plans in plain lines, for a person: numbers in a column, cautions beside what they belong to."""

from pathlib import Path

from monitor.cli.sums_layout import amount_line, caution_lines, grams_of, wrapped
from monitor.formulation import UnitChoice
from monitor.planning import BatchPlan


def batch_lines(
    plan: BatchPlan, beside: list[str], changes: tuple[str, ...] | None, kept: Path | None, units: UnitChoice
) -> list[str]:
    """A planned batch.

    beside: sentences on certificates, costs and what is short. changes: from the batch it started from, None where it
    started from none.
    """
    return [
        plan.batch.title,
        *_weighing(plan, units),
        "",
        *_about(plan),
        "",
        *_product(plan, units),
        *([""] if beside else []),
        *wrapped(beside),
        *_changed(changes),
        *_where(kept),
    ]


def _weighing(plan: BatchPlan, units: UnitChoice) -> list[str]:
    made, oz = plan.charge, units.in_ounces
    width = max(len(name) for name, _ in plan.shares)
    lines = [
        amount_line(grams_of(each.grams, oz), f"{each.name.ljust(width)} {share:7.1%}")
        for each, (_, share) in zip(made.inputs.portions, plan.shares, strict=True)
    ]
    lines.append(amount_line(grams_of(made.koh_g, oz), f"KOH flakes of {made.inputs.koh_assay:.1%}"))
    if made.naoh_g:
        lines.append(amount_line(grams_of(made.naoh_g, oz), f"NaOH of {made.inputs.naoh_assay:.1%}"))
    lines += caution_lines(made.cautions, "koh_g")
    lines.append(amount_line(grams_of(made.water_g, oz), f"water, which makes a lye of {made.lye_strength:.1%}"))
    lines += caution_lines(made.cautions, "water_g")
    if made.inputs.glycerol_g:
        lines.append(amount_line(grams_of(made.inputs.glycerol_g, oz), "glycerol"))
    lines.append(amount_line(grams_of(made.total_g, oz), "in all, to blend"))
    return lines + caution_lines(made.cautions, "total_g")


def _about(plan: BatchPlan) -> list[str]:
    excess = plan.charge.excess
    lines = wrapped(
        [
            f"Excess {excess.taken:+z.1%}; 8 in 10 that it is truly from {excess.likely_low:+z.1%} to "
            f"{excess.likely_high:+z.1%}.",
            *plan.oils.words,
        ]
    )
    if plan.fill is not None:
        fill = plan.fill
        lines += wrapped([f"The pot: {fill.batch_l:.2f} L in {fill.cooker_l:g} L to the rim, {fill.filled:.0%} full."])
        lines += caution_lines(fill.cautions, "filled")
    return lines + wrapped(plan.words)


def _product(plan: BatchPlan, units: UnitChoice) -> list[str]:
    diluted, oz = plan.dilution, units.in_ounces
    strength = f"{diluted.soap_share:.1%} real soap"
    lines = [
        amount_line(grams_of(diluted.water_g, oz), f"water after the cook, for {strength}; what boils off comes on top")
    ]
    lines += caution_lines(diluted.cautions, "water_g")[:1]
    lines.append(amount_line(grams_of(diluted.product_g, oz), "of finished soap"))
    if plan.bottles is not None:
        size = f"{plan.bottles.bottle_ml:g} mL"
        if units.volume != "mL":
            size += f" ({units.volume_text(plan.bottles.bottle_ml)})"
        spare = f"; {plan.spare_share:.0%} is left for samples and what clings" if plan.spare_share else ""
        lines.append(amount_line(f"{plan.bottles.full}", f"bottles of {size}{spare}"))
    return lines


def _changed(changes: tuple[str, ...] | None) -> list[str]:
    if changes is None:
        return []
    return ["", "Beside the batch it started from:", *wrapped(changes or ("Nothing is otherwise.",))]


def _where(kept: Path | None) -> list[str]:
    if kept is None:
        return ["", "Nothing is kept yet; --keep keeps it as a batch sheet."]
    return ["", f"Kept as {kept}. To cook it: kettleside start --source URL --batch {kept.stem}"]
