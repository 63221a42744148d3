"""A seeded cook for the dashboard's tests and benchmark: a heating curve, noise in quarter degrees, stirs, one check."""

import math
import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from monitor.model import make_event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Clock
from monitor.runtime.clock import JumpClock
from monitor.storage import Recorder

SHEET = """title = "{title}"
[[oil]]
name = "rapeseed"
grams = 600
[alkali]
kind = "KOH"
assay = 0.90
excess = 0.03
[water]
grams = 540
"""
STIR_EVERY_S = 2100
ROOM_C, COOLS_WITHIN_S, WARMS_WITHIN_S = 20.5, 3000.0, 900.0


class Maker:
    """Writes a seeded cook, one reading of four channels a second.

    The cook began ``hours`` before the clock's now; ``went_on`` adds what came since. power_cut_s: so many seconds
    after the start the heat is lost, and nobody stirs any more, until ``power_back`` is called.
    """

    def __init__(
        self,
        folder: Path,
        clock: Clock | None = None,
        *,
        hours: float = 3.0,
        title: str = "Kitchen batch",
        rig: str = "cooker",
        seed: int = 7,
        rate: float = 1.0,
        events: bool = True,
        power_cut_s: float = math.inf,
    ) -> None:
        self._power_cut_s, self._power_back_s = float(power_cut_s), math.inf
        self._random = random.Random(seed)
        self._second = 0
        self.anchor = anchor = replace((clock or JumpClock()).anchor(), rate=rate)
        length_s = int(hours * 3600)
        self.started = anchor.cook_time - length_s
        # The file is tied to now, while the name and the start are those of its beginning.
        self.recorder = Recorder.create(
            folder,
            replace(
                anchor, cook_time=self.started, wall=anchor.wall - length_s, boot_s=anchor.boot_s - length_s, rate=1
            ),
            rig=rig,
            source="rig:",
            sheet=SHEET.format(title=title),
        )
        self.path = self.recorder.path
        self.recorder.tie_clock(anchor)
        if events:
            for kind, at_s in (("lye in", 300), ("thick trace", 1500), ("lid on", 1700)):
                if at_s < length_s:
                    self.log(kind, at_s)
            for at_s in range(3800, int(min(length_s, power_cut_s)), STIR_EVERY_S):
                self.log("stirred", at_s)
            if length_s > 9000:
                self.log("checked", 9000, {"result": "hazy"})
        self.went_on(length_s)

    def log(self, kind: str, at_s: float, fields: Mapping[str, object] | None = None) -> None:
        """Logs an event so many seconds after the start."""
        moment = self.started + at_s
        self.recorder.add_event(make_event(f"{self.path.stem}-{kind}-{at_s}", kind, moment, moment, fields))
        self.recorder.commit()

    def power_back(self) -> None:
        """From now on the paste warms up again."""
        self._power_back_s = self._second

    def went_on(self, until_s: float) -> None:
        """Adds every reading up to so many seconds after the start, and commits."""
        while self._second < until_s:
            self._add_pack(self._second)
            self._second += 1
        self.recorder.commit()

    def _add_pack(self, second: int) -> None:
        moment = self.started + second
        stirred_ago = (second - 3800) % STIR_EVERY_S if second >= 3800 else STIR_EVERY_S
        paste_c = 93 - 63 * math.exp(-second / 1500) - 3 * math.exp(-stirred_ago / 200) + self._random.gauss(0, 0.15)
        if self._power_cut_s <= second:
            without_s = min(second, self._power_back_s) - self._power_cut_s
            lost_c = (paste_c - ROOM_C) * (1.0 - math.exp(-without_s / COOLS_WITHIN_S))
            paste_c -= lost_c * math.exp(-max(0.0, second - self._power_back_s) / WARMS_WITHIN_S)
        values = {"paste": paste_c, "wall": paste_c + 5, "room": 20.5, "cold": 24.0}
        records = tuple(SenmlRecord(name, "Cel", round(value * 4) / 4, None, moment) for name, value in values.items())
        self.recorder.add_pack(Pack(records, moment, second, None))

    def finish(self) -> None:
        """Logs the end and folds the file."""
        self.log("finished", self._second)
        self.recorder.finish()
