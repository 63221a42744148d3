"""A planned batch beside what the kitchen has: what it would cost by the stock."""

from monitor.planning import BatchPlan
from monitor.stock import BatchCost, Shelf, allocate, batch_cost, charge_needs


def plan_cost(plan: BatchPlan, shelf: Shelf) -> BatchCost | None:
    """What the batch costs by the shelf, with its bottles where it fills any; None where nothing was ever on it."""
    if not shelf.lots:
        return None
    filled = None if plan.bottles is None else (plan.bottles.full, plan.bottles.bottle_ml)
    needs = charge_needs(plan.charge, dilution_water_g=plan.dilution.water_g, bottles=filled)
    return batch_cost(shelf, allocate(shelf, needs), 0 if filled is None else filled[0])
