"""Shows the cook of one rig on a home-automation platform over MQTT, and logs what is pressed there.

It has a connection of its own, so that nothing that a broker refuses to it costs a notice.
"""

import json
import math
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TypeAlias
from urllib.parse import urlsplit

from monitor.model import clock_time
from monitor.notifications.discovery import (
    BUTTONS,
    Press,
    Topics,
    configuration,
    read_press,
    state_of,
    state_without_cook,
    topics_of,
)
from monitor.notifications.settings import HomeAutomationSettings
from monitor.notifications.store import NoticeFileError, load_announced, save_announced
from monitor.runtime import Clock, Level, MonitorError, Report
from monitor.session import Cook, Outlook
from monitor.sources import ONLINE, MqttMessage, MqttPublisher, SourceUrl, parse_source_url

# What changes with every reading is published at most this often, real seconds; the rest at once.
PUBLISH_EVERY_S = 10.0
WANDERING = frozenset({"temperature_c", "done_percent", "clear_at", "check_due"})
# A second press of the same button within this is a double tap, or was sent again; real seconds.
SAME_PRESS_S = 3.0
# The platform's clock may be behind ours by this without its presses seeming old.
CLOCKS_APART_S = 10.0
# A broker's address and the topic of a configuration there.
Place: TypeAlias = tuple[str, str]


class _Withdrawal:
    """Sends empty retained messages to topics, which takes the entities away, until the broker has them."""

    def __init__(self, publisher: MqttPublisher, topics: Sequence[str]) -> None:
        self.publisher = publisher
        self._topics = topics
        self._connection = 0

    def is_done(self) -> bool:
        """Goes on; whether the broker has acknowledged all."""
        self.publisher.tend()
        if self.publisher.connections != self._connection:
            self._connection = self.publisher.connections
            for topic in self._topics:
                self.publisher.publish(topic, "", retained=True)
            return False
        return self._connection > 0 and self.publisher.emptied


class HomeAutomation:
    """What a home-automation platform sees of one rig; follows the settings while it runs.

    source: the rig's, whose broker is the platform's unless the settings name another. settings: gives those of now.
    """

    def __init__(
        self,
        folder: Path,
        rig: str,
        source: SourceUrl | None,
        clock: Clock,
        report: Report,
        settings: Callable[[], HomeAutomationSettings | None],
    ) -> None:
        self._folder = folder
        self._rig = rig
        self._source = source
        self._clock = clock
        self._report = report
        self._settings = settings
        self._announced = load_announced(folder, rig)
        self._withdrawing: dict[Place, _Withdrawal] = {}
        self._followed: object = object()
        self._topics: Topics | None = None
        self._publisher: MqttPublisher | None = None
        self._connection = 0
        self._shown: dict[str, object] = {}
        self._shown_s = 0.0
        # By button: when the last press that counted arrived.
        self._accepted: dict[str, float] = {}
        self._entry = ""
        self._reported = ""

    @property
    def is_served(self) -> bool:
        """Whether a platform is served now, where somebody may press a button at any moment."""
        return self._publisher is not None

    def update(self, cook: Cook | None, outlook: Outlook | None) -> None:
        """Publishes what has changed and logs what was pressed; never raises.

        cook: the one under way, or None. outlook: its own, None where it cannot be followed just now.
        """
        try:
            self._update(cook, outlook)
        except Exception as error:  # noqa: BLE001 - a fault here must not silence the notices
            self._report_once(f"The home-automation platform is not served ({type(error).__name__}: {error}).")

    def _update(self, cook: Cook | None, outlook: Outlook | None) -> None:
        settings = self._settings()
        if settings != self._followed:
            self._followed = settings
            self._follow(settings)
        self._withdraw()
        if self._publisher is None or self._topics is None:
            return
        self._publisher.tend()
        for message in self._publisher.received():
            self._take(message, self._topics, self._publisher.connected_s, cook)
        if self._publisher.connections != self._connection:
            # A broker that was started again may have forgotten what it retained.
            self._connection, self._shown = self._publisher.connections, {}
            text = configuration(self._rig, self._topics, _version())
            self._publisher.publish(self._topics.config, text, retained=True)
            self._publisher.publish(self._topics.available, ONLINE, retained=True)
        self._show(self._publisher, self._topics, cook, outlook)

    def _follow(self, settings: HomeAutomationSettings | None) -> None:
        """Begins anew with these settings, and has withdrawn what was announced by others."""
        if self._publisher is not None:
            self._publisher.close()
        self._publisher, self._topics, self._connection = None, None, 0
        broker = _broker(settings, self._source)
        if settings is not None and broker is None:
            self._report_once(
                f"No home-automation platform finds the cooker {self._rig}, because its source is no broker; write "
                'broker = "mqtt://..." under [home_automation] in the notice settings.'
            )
        kept: Place | None = None
        if settings is not None and broker is not None:
            topics = topics_of(self._rig, settings.prefix)
            kept = (_address(broker), topics.config)
            if kept in self._withdrawing:
                self._withdrawing.pop(kept).publisher.close()
            self._topics = topics
            self._publisher = MqttPublisher(broker, self._clock, self._report, topics.available, (f"{topics.press}+",))
            # Half a second at most: a broker at home has answered by then, and the device is there at once.
            for _ in range(10):
                self._publisher.tend()
                if self._publisher.connections:
                    break
        for place in self._announced - {kept} - self._withdrawing.keys():
            self._withdrawing[place] = self._withdrawal(place, kept)
        self._remember(frozenset({*self._withdrawing, *(() if kept is None else (kept,))}))

    def _withdrawal(self, place: Place, kept: Place | None) -> "_Withdrawal":
        broker, topic = place
        topics = topics_of(self._rig, "")
        # Another configuration at the same broker needs the other topics.
        shared = kept is not None and kept[0] == broker
        every = (topic,) if shared else (topic, topics.state, topics.available)
        return _Withdrawal(MqttPublisher(parse_source_url(broker), self._clock, self._report), every)

    def _withdraw(self) -> None:
        for place, withdrawal in list(self._withdrawing.items()):
            if withdrawal.is_done():
                withdrawal.publisher.close()
                del self._withdrawing[place]
                self._remember(self._announced - {place})
                # The same broker may go by another name, and what was just taken away may be ours.
                self._connection = 0

    def _remember(self, announced: frozenset[Place]) -> None:
        if announced == self._announced:
            return
        self._announced = announced
        try:
            save_announced(self._folder, self._rig, announced)
        except NoticeFileError as error:
            self._report_once(str(error))

    def _take(self, message: MqttMessage, topics: Topics, connected_s: float, cook: Cook | None) -> None:
        """Logs a press, or says why not. connected_s: when the connection was made, real seconds."""
        press = read_press(topics, message.topic, message.payload)
        # The broker's copy for new subscribers is nobody's finger.
        if press is None or message.retained or (message.repeated and press.pressed is None):
            return
        name = BUTTONS[press.key].name
        if message.arrived - self._accepted.get(press.key, -math.inf) < SAME_PRESS_S:
            return
        # By ages, because the wall clock of a small board may have been set since.
        age_s = 0.0 if press.pressed is None else self._clock.anchor().wall - press.pressed
        if press.pressed is not None and age_s > self._clock.real_s() - connected_s + CLOCKS_APART_S:
            pressed = clock_time(press.pressed)
            self._tell(f"“{name}” was pressed at {pressed}, before kettleside was listening; nothing was logged.")
        elif cook is None:
            self._tell(f"“{name}” was pressed and no cook runs at {self._rig}; nothing was logged.")
        else:
            self._accepted[press.key] = message.arrived
            self._log(cook, press, message)

    def _log(self, cook: Cook, press: Press, message: MqttMessage) -> None:
        button = BUTTONS[press.key]
        uid = press.uid(self._rig, f"{message.arrived!r} {message.mid}")
        try:
            # By arrival: the clock of a cook is ours, and that of a virtual one runs faster than any other.
            at = cook.ago(max(0.0, self._clock.now() - message.arrived))
            event = cook.log_event(button.kind, at, button.fields, uid)
        except (MonitorError, ValueError) as error:
            self._tell(f"“{button.name}” could not be logged: {error}")
            return
        self._entry = f"{button.name}, {clock_time(event.measured)}"

    def _tell(self, sentence: str) -> None:
        """Says it where kettleside runs, and on the platform."""
        self._entry = sentence
        self._report(sentence, Level.WARNING)

    def _report_once(self, sentence: str) -> None:
        if sentence != self._reported:
            self._report(sentence, Level.WARNING)
        self._reported = sentence

    def _show(self, publisher: MqttPublisher, topics: Topics, cook: Cook | None, outlook: Outlook | None) -> None:
        if cook is None:
            state = state_without_cook(self._entry)
        elif outlook is not None:
            state = state_of(outlook, cook.history(), self._entry)
        else:
            return
        now_s = self._clock.real_s()
        changed = {key for key, value in state.items() if key not in self._shown or self._shown[key] != value}
        if not changed or (changed <= WANDERING and now_s - self._shown_s < PUBLISH_EVERY_S):
            return
        publisher.publish(topics.state, json.dumps(state, ensure_ascii=False), retained=True)
        self._shown, self._shown_s = state, now_s

    def close(self) -> None:
        """Publishes that nothing is kept up any more, and disconnects; the configuration stays for the next start."""
        if self._publisher is not None:
            self._publisher.close()
        for withdrawal in self._withdrawing.values():
            withdrawal.publisher.close()


def _broker(settings: HomeAutomationSettings | None, source: SourceUrl | None) -> SourceUrl | None:
    if settings is not None and settings.broker is not None:
        return settings.broker
    return source if source is not None and source.scheme in ("mqtt", "mqtts") else None


def _address(broker: SourceUrl) -> str:
    """A broker's address without a topic, which is another matter."""
    return urlsplit(broker.text, allow_fragments=False)._replace(path="").geturl()


def _version() -> str:
    try:
        return version("kettleside")
    except PackageNotFoundError:
        return "unknown"
