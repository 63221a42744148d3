"""How fast the estimate is, as ratios in one run.

    python -m tests.bench.estimate_speed

Against scipy's ODE solver on the same rate law and the same six-hour temperature history, at equal accuracy (both
within 1e-5 of a reference solution); a live reading at hour six against one at minute one; a history twice as long;
packs a second through the ``stream`` command's core, and an answer at the end of a six-hour cook. Where Cantera is
installed (it is no dependency) a constant-volume reactor runs beside them. Exits with 1 if a target is missed.
"""

import json
import math
import os
import statistics
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.integrate import solve_ivp

from monitor.estimation import (
    EA,
    EXCESS_EXPONENTS,
    LN_NEED,
    MIXING_FLOORS,
    BlockMedian,
    Estimator,
    arrhenius_factor,
    first_prior,
    integrate_equivalent_time,
    update_posterior,
)
from monitor.estimation.kinetics import clear_gain, second_order_converted
from monitor.model import Event, Floats, History, series_from
from monitor.session import StreamSession

START = 1_773_484_800.0
HOURS_S = 21_600
ROUNDS = 9
NEED_S = 9600.0
EXCESS = 0.03
EA_J_MOL = 50_000.0


def seconds(work: Callable[[], object]) -> float:
    """CPU seconds of one call, the median of several after one that is not counted."""
    work()
    found = []
    for _ in range(ROUNDS):
        begun = process_time()
        work()
        found.append(process_time() - begun)
    return statistics.median(found)


def temperatures(length_s: int) -> tuple[Floats, Floats]:
    """A six-hour paste at 1 Hz: warm-up, plateau, and a dip at every stir."""
    times = START + np.arange(float(length_s))
    elapsed = times - START
    since_stir = np.where(elapsed > 2100.0, elapsed % 2100.0, 9e9)
    return times, 95.0 - 30.0 * np.exp(-elapsed / 2400.0) - 4.0 * np.exp(-since_stir / 240.0)


def history(length_s: int) -> History:
    times, values = temperatures(length_s)
    events = [Event("lid", "lid on", START, START)]
    events += [Event(f"stir {i}", "stirred", START + i, START + i) for i in range(2100, length_s, 2100)]
    return History(START, float(times[-1]), {"paste": series_from("paste", "Cel", times, times, values)}, tuple(events))


def whole_posterior(past: History) -> Floats:
    """Every parameter set's equivalent time and weight, from the readings on."""
    blocks = BlockMedian()
    blocks.extend(*past.temperature_c("paste"))
    done = integrate_equivalent_time(*blocks.arrays(), past.events, START)
    return update_posterior(first_prior(), done, past.events, None).weight


def converted_by_blocks() -> float:
    """One parameter set, well mixed, through the package's blocks and integral."""
    blocks = BlockMedian()
    blocks.extend(*temperatures(HOURS_S))
    times, values = blocks.arrays()
    rate = arrhenius_factor(values, EA_J_MOL)
    steps = np.diff(times)
    equivalent = float((0.5 * (rate[1:] + rate[:-1]) * steps).sum())
    equivalent += float(rate[0]) * (times[0] - START) + float(rate[-1]) * (START + HOURS_S - 1 - times[-1])
    return float(second_order_converted(equivalent / NEED_S * clear_gain(EXCESS), EXCESS))


def solved(rtol: float) -> float:
    """One parameter set by scipy's solver on the same readings."""
    times, values = temperatures(HOURS_S)
    elapsed = times - START
    gain = float(clear_gain(EXCESS)) / NEED_S

    def rate(t: float, x: Floats) -> Floats:
        temperature = float(np.interp(t, elapsed, values))
        k = gain * math.exp(-EA_J_MOL / 8.314462618 * (1 / (temperature + 273.15) - 1 / 368.15))
        result: Floats = k * (1.0 - x) * (1.0 + EXCESS - x)
        return result

    # A step longer than a dip would pass it over.
    answer = solve_ivp(rate, (0.0, elapsed[-1]), [0.1], rtol=rtol, atol=1e-9, max_step=600.0)
    return float(answer.y[0, -1])


def one_more_reading(length_s: int) -> float:
    """CPU seconds of one more live reading and the outlook after it, at the end of a cook of this length."""
    past = history(length_s)
    forecaster = Estimator()
    forecaster.estimate(past, past.as_of)
    series = past.series["paste"]
    found = []
    for i in range(1, 40):
        at = float(series.measured[-1]) + 1.0
        series = series_from(
            "paste", "Cel", np.append(series.measured, at), np.append(series.known, at), np.append(series.value, 95.0)
        )
        grown = History(START, at, {"paste": series}, past.events)
        begun = process_time()
        forecaster.estimate(grown, at)
        if i > 5:
            found.append(process_time() - begun)
    return statistics.median(found)


def streamed() -> tuple[float, float]:
    """Packs a second through the stream, and CPU milliseconds of an answer at the end of six hours."""
    times, values = temperatures(HOURS_S)
    lines = [json.dumps({"t": START, "event": "lid on"})]
    for i, (at, value) in enumerate(zip(times.tolist(), values.tolist(), strict=True)):
        records = [
            {"n": "paste", "u": "Cel", "v": round(4 * value) / 4, "t": at},
            {"n": "wall", "u": "Cel", "v": round(4 * value) / 4 + 3, "t": at},
            {"n": "room", "u": "Cel", "v": 20.25, "t": at},
            {"n": "ph", "u": "V", "v": -0.1623, "t": at},
            {"n": "seq", "u": "count", "v": i},
        ]
        lines.append(json.dumps(records))
    with tempfile.TemporaryDirectory() as folder:
        sheet = '[[oil]]\nname = "rapeseed"\ngrams = 600\n'
        stream = StreamSession(sheet, Path(folder), first_prior)
        begun = process_time()
        for line in lines:
            stream.take(line)
        rate = HOURS_S / (process_time() - begun)
        question = json.dumps({"t": START + HOURS_S, "ask": "outlook"})
        begun = process_time()
        stream.take(question)
        first_ms = 1000 * (process_time() - begun)
        later_ms = 1000 * seconds(lambda: stream.take(question))
        stream.close()
    return rate, max(first_ms, later_ms)


def by_cantera() -> float | None:
    """CPU seconds of a constant-volume reactor at one constant temperature, or None where Cantera is missing."""
    try:
        import cantera
    except ImportError:
        return None
    mechanism = """
phases:
- {name: gas, thermo: ideal-gas, species: [A, B, C], kinetics: gas, reactions: all, state: {T: 368.15, P: 1.0e5}}
species:
- {name: A, composition: {H: 1}, thermo: &flat {model: constant-cp, h0: 0.0, s0: 0.0, cp0: 100.0}}
- {name: B, composition: {H: 1}, thermo: *flat}
- {name: C, composition: {H: 2}, thermo: *flat}
reactions:
- {equation: A + B => C, rate-constant: {A: 1.0e-3, b: 0.0, Ea: 0.0}}
"""

    def react() -> None:
        gas = cantera.Solution(yaml=mechanism)
        gas.TPX = 368.15, 1.0e5, {"A": 1.0, "B": 1.0 + EXCESS}
        reactor = cantera.IdealGasReactor(gas, energy="off")
        cantera.ReactorNet([reactor]).advance(float(HOURS_S))

    return seconds(react)


def main() -> int:
    exact = solved(1e-12)
    print(
        f"accuracy: blocks off by {abs(converted_by_blocks() - exact):.1e}, solver by {abs(solved(1e-6) - exact):.1e}"
    )
    past = history(HOURS_S)
    whole_s, solver_s = seconds(lambda: whole_posterior(past)), seconds(lambda: solved(1e-6))
    half = history(HOURS_S // 2)
    half_s = seconds(lambda: whole_posterior(half))
    late_s, early_s = one_more_reading(HOURS_S), one_more_reading(60)
    sets = len(LN_NEED) * len(EA) * len(MIXING_FLOORS) * len(EXCESS_EXPONENTS)
    checks = [
        ("whole posterior over one solver run, at most 1", whole_s / solver_s, 1.0),
        ("one parameter set of it over one solver run, at most 1/50", whole_s / sets / solver_s, 1 / 50),
        ("a history twice as long, at most 2.5", whole_s / half_s, 2.5),
        ("one more reading at hour six over one at minute one, at most 1.5", late_s / early_s, 1.5),
    ]
    rate, answer_ms = streamed()
    checks += [
        ("5000 packs a second over the stream's rate, at most 1", 5000 / rate, 1.0),
        ("an answer at the end of six hours over 20 ms, at most 1", answer_ms / 20, 1.0),
    ]
    print(f"whole posterior {1000 * whole_s:.2f} ms for {sets} parameter sets, one solver run {1000 * solver_s:.2f} ms")
    print(f"stream {rate:.0f} packs/s, an answer {answer_ms:.1f} ms")
    cantera_s = by_cantera()
    if cantera_s is None:
        print("Cantera is not installed: no reactor beside it")
    else:
        # One parameter set at one constant temperature, the fair part of the comparison.
        print(f"one constant-temperature reactor {1000 * cantera_s:.2f} ms, {cantera_s / whole_s:.2f} of the posterior")
    missed = False
    for name, ratio, limit in checks:
        missed |= ratio > limit
        print(f"{'MISSED' if ratio > limit else 'ok    '} {name}: {ratio:.4g}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
