"""Whether planned days come true: the clear time, the checks and the stirs that a forecast states before the lid is on.

    python -m tests.bench.day_plans --seeds 0:20
    python -m tests.bench.day_plans --seeds 0:20 --stranger
    python -m tests.bench.day_plans --seeds 100:300 --cooks 1

Each virtual kitchen cooks four times under the monitor and learns from each; before each cook its day is forecast by
what was learned until then. Covered is how often the true clear time lay between the stated 10 and 90 % points, latest
how often it came by the 90 % point, after which a latest start is reckoned; error is of the middle, in minutes.
"""

import argparse
import os
import statistics
from dataclasses import dataclass

# Before numpy is loaded: one core is enough.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from monitor.estimation import CookForecast, cook_evidence, fit_kitchen, forecast_cook
from monitor.model import History
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import CookRun, cook
from tests.kitchens.judging import LEARNING_COOKS, Job


@dataclass(frozen=True)
class Planned:
    """A forecast beside the cook that followed it."""

    forecast: CookForecast
    run: CookRun

    @property
    def covered(self) -> bool:
        """Whether it came clear within the stated times."""
        return self.forecast.early.clear_at <= self.run.true_clear and self.by_latest

    @property
    def by_latest(self) -> bool:
        """Whether it came clear by the 90 % point."""
        return self.run.true_clear <= self.forecast.late.clear_at

    @property
    def error_min(self) -> float:
        """Minutes from the stated middle to the true clear time."""
        return abs(self.forecast.middle.clear_at - self.run.true_clear) / 60.0

    @property
    def width_min(self) -> float:
        """From the 10 to the 90 % point, minutes."""
        return (self.forecast.late.clear_at - self.forecast.early.clear_at) / 60.0


def planned_cooks(job: Job, cooks: int = LEARNING_COOKS + 1) -> list[Planned | None]:
    """The first cooks of a kitchen, each beside its forecast; None where none could be made."""
    place, past = job.kitchen(), list[History]()
    planned: list[Planned | None] = []
    for index in range(cooks):
        model = fit_kitchen([lesson for one in past if (lesson := cook_evidence(one)) is not None])
        monitor = Monitor(past, job.costs)
        run = cook(place, index, monitor, job.sample_s)
        forecast = forecast_cook(model.prior(), job.costs, run.batch, run.lid_on, model.start_c)
        planned.append(None if forecast is None else Planned(forecast, run))
        past.append(monitor.history())
    return planned


def row(name: str, cooks: list[Planned]) -> str:
    """One line of the table."""
    count = len(cooks)
    covered, latest = (sum(cases) / count for cases in ([c.covered for c in cooks], [c.by_latest for c in cooks]))
    error, width = statistics.median(c.error_min for c in cooks), statistics.median(c.width_min for c in cooks)
    checks = statistics.mean(len(c.forecast.middle.checks) for c in cooks), statistics.mean(c.run.checks for c in cooks)
    stirs = statistics.mean(len(c.forecast.middle.stirs) for c in cooks), statistics.mean(c.run.stirs for c in cooks)
    first = statistics.mean(c.forecast.first_clear for c in cooks), statistics.mean(c.run.first_clear for c in cooks)
    return (
        f"{name:<20}{count:6}{covered:9.0%}{latest:8.0%}{error:8.0f}{width:8.0f}"
        f"{checks[0]:9.2f} {checks[1]:5.2f}{stirs[0]:8.1f} {stirs[1]:5.1f}{first[0]:9.0%} {first[1]:5.0%}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="whether planned days come true in virtual kitchens")
    parser.add_argument("--seeds", default="0:20", metavar="A:B")
    parser.add_argument("--stranger", action="store_true", help="kitchens whose physics is another")
    parser.add_argument("--cooks", type=int, default=LEARNING_COOKS + 1, metavar="N", help="of each kitchen")
    args = parser.parse_args()
    begin, end = map(int, args.seeds.split(":"))
    every = [planned_cooks(Job(seed, strange=args.stranger), args.cooks) for seed in range(begin, end)]
    print(f"{len(every)} {'stranger' if args.stranger else 'own'} kitchens; two figures are as planned and as it was")
    print(f"{'':<20} cooks  covered  latest   error   width        checks          stirs      first clear")
    for index in range(args.cooks):
        cooks = [one for kitchen in every if (one := kitchen[index]) is not None]
        name = f"after {index} cook{'s' if index != 1 else ''}"
        print(row(name, cooks))
        print(row("  undisturbed", [one for one in cooks if not one.run.disturbed]))


if __name__ == "__main__":
    main()
