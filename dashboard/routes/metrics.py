"""``/metrics``: the running cooks for a monitoring system, in the Prometheus text format (version 0.0.4).

A monitoring system keeps no cookie, so it may send the key as a bearer token (RFC 6750); a paired browser may look too.
"""

import hmac
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from flask import Flask, Response, request

from dashboard.components.answers import as_text, guarded, told
from dashboard.live.app_state import AppState
from monitor.alarms import SILENCE_S, is_fresh
from monitor.runtime import MonitorError
from monitor.session import LiveCook

PATH = "/metrics"
MIMETYPE = "text/plain; version=0.0.4; charset=utf-8"
PERCENTILES = ("10", "50", "90")
# name -> (type, help); no unit but those of the SI and the ratio, as the format's naming rules want it.
FAMILIES: Mapping[str, tuple[str, str]] = {
    "kettleside_cooks_running": ("gauge", "Cooks under way."),
    "kettleside_cooks_unreadable": ("gauge", "Cooks under way whose recording cannot be read just now."),
    "kettleside_paste_temperature_celsius": ("gauge", "The paste's latest temperature; absent while none comes."),
    "kettleside_done_ratio": ("gauge", "Share of the cooking that this paste needs which has passed."),
    "kettleside_converted_ratio": ("gauge", "Share of the fat that is soap."),
    "kettleside_chance_clear_ratio": ("gauge", "Chance that a check made now reads clear."),
    "kettleside_clear_seconds": ("gauge", "Seconds until the paste comes clear; absent where it will not."),
    "kettleside_stir_due_seconds": (
        "gauge",
        "Seconds until the next stir is due, negative once it is; absent if none.",
    ),
    "kettleside_check_due_seconds": ("gauge", "Seconds until a check is due, negative once it is; absent if none."),
    "kettleside_alarm": ("gauge", "1 for each alarm, by its name and its state after IEC 62682."),
    "kettleside_readings_total": ("counter", "Readings stored of the running cook, all channels."),
    "kettleside_last_reading_age_seconds": ("gauge", "Seconds since the latest reading of any channel arrived."),
}


@dataclass(frozen=True, slots=True)
class Sample:
    """One value. family: a key of ``FAMILIES``."""

    family: str
    labels: Mapping[str, str]
    value: float


def add_metrics_route(server: Flask, state: AppState, key: str) -> None:
    """Registers ``/metrics``; before the guard, whose turn it is where no bearer token is sent."""
    answer = guarded(partial(_metrics, state), lambda error, status: as_text(told(error), status), state.lock)

    def check_token() -> Response | None:
        sent = request.headers.get("Authorization", "")
        if request.path != PATH or not sent or request.method not in ("GET", "HEAD"):
            return None
        scheme, _, token = sent.partition(" ")
        # Bytes, because compare_digest refuses text beyond ASCII.
        if scheme.lower() == "bearer" and hmac.compare_digest(token.strip().encode("utf-8", "replace"), key.encode()):
            return answer()
        return Response("This needs the key.", 401, {"WWW-Authenticate": "Bearer"}, mimetype="text/plain")

    server.before_request(check_token)
    server.add_url_rule(PATH, PATH, answer)


def _metrics(state: AppState) -> Response:
    running, unreadable = state.running(), 0
    samples: list[Sample] = []
    for found in running:
        try:
            samples += samples_of(state.cook(found.path.stem))
        except MonitorError:
            unreadable += 1
    samples.append(Sample("kettleside_cooks_running", {}, len(running)))
    samples.append(Sample("kettleside_cooks_unreadable", {}, unreadable))
    return Response(exposition(samples), content_type=MIMETYPE)


def samples_of(cook: LiveCook) -> Iterator[Sample]:
    """What there is to tell of a cook under way; what is not known is left out. Raises RecordingError."""
    live = cook.state()
    estimate, now, rig = live.outlook.estimate, live.now, {"rig": cook.rig}
    paste, (_, values_c) = live.history.by_role("paste"), live.history.temperature_c("paste")
    heard = paste is not None and is_fresh(paste, now, SILENCE_S * live.rate)
    if heard and len(values_c) and math.isfinite(values_c[-1]):
        yield Sample("kettleside_paste_temperature_celsius", rig, float(values_c[-1]))
    if estimate.elapsed_s is not None:
        for percentile, done, converted in zip(PERCENTILES, estimate.done, estimate.converted, strict=True):
            yield Sample("kettleside_done_ratio", {**rig, "percentile": percentile}, done)
            yield Sample("kettleside_converted_ratio", {**rig, "percentile": percentile}, converted)
        yield Sample("kettleside_chance_clear_ratio", rig, estimate.chance_clear)
    for percentile, moment in zip(PERCENTILES, estimate.clear_at, strict=True):
        if moment is not None:
            yield Sample("kettleside_clear_seconds", {**rig, "percentile": percentile}, moment - now)
    for family, due in (("stir", live.outlook.stir_due), ("check", live.outlook.check_due)):
        if due is not None:
            yield Sample(f"kettleside_{family}_due_seconds", rig, due - now)
    for alarm in live.outlook.alarms:
        yield Sample("kettleside_alarm", {**rig, "name": alarm.name, "state": alarm.state}, 1)
    channels = [series for series in live.history.series.values() if len(series)]
    yield Sample("kettleside_readings_total", rig, sum(map(len, channels)))
    if channels:
        arrived = max(float(series.known.max()) for series in channels)
        yield Sample("kettleside_last_reading_age_seconds", rig, max(0.0, now - arrived) / live.rate)


def exposition(samples: Iterable[Sample]) -> str:
    r"""The samples as text, those of one family together, as the format wants it.

    >>> print(exposition([Sample("kettleside_alarm", {"name": 'a "b"'}, 1)]), end="")
    # HELP kettleside_alarm 1 for each alarm, by its name and its state after IEC 62682.
    # TYPE kettleside_alarm gauge
    kettleside_alarm{name="a \"b\""} 1.0
    """
    of_family: dict[str, list[Sample]] = {family: [] for family in FAMILIES}
    for sample in samples:
        of_family[sample.family].append(sample)
    lines: list[str] = []
    for family, found in of_family.items():
        if found:
            kind, text = FAMILIES[family]
            lines += [f"# HELP {family} {text}", f"# TYPE {family} {kind}", *map(_line, found)]
    return "".join(f"{line}\n" for line in lines)


def _line(sample: Sample) -> str:
    labels = ",".join(f'{name}="{_escaped(value)}"' for name, value in sample.labels.items())
    return f"{sample.family}{f'{{{labels}}}' if labels else ''} {float(sample.value)!r}"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
