"""The self-test of the notices: tries every channel and says of each, in one sentence, whether it worked."""

import threading
from collections.abc import Callable, Mapping
from pathlib import Path

from monitor.notifications.channels.buzzer import BuzzerChannel, reaches_rig_by_cable
from monitor.notifications.channels.channel import Channel, Message, SendError
from monitor.notifications.dispatcher import channels_of
from monitor.notifications.repeat import Notice
from monitor.notifications.store import NotifierLock, load_notice_settings
from monitor.runtime import Clock, Level, MonitorError
from monitor.sources import SourceUrl

LONGEST_S = 40.0
BROKER_WITHIN_S = 6.0
TEXT = "This is a test of the notices; nothing is due and nothing is wrong."


def run_self_test(
    folder: Path, rigs: Mapping[str, SourceUrl | None], clock: Clock, report: Callable[[str], None]
) -> bool:
    """Tries every channel; whether all worked. report: takes one sentence for each.

    rigs: each rig's name and its logger's source; a broker is sent a test notice too.
    Raises NoticeFileError, NoticeSettingsError.
    """
    settings = load_notice_settings(folder)
    notice = Notice("test", TEXT, clock.now())
    # All rigs share the services and programs, so one test of each is enough.
    attempts = [_Attempt(channel, Message(", ".join(rigs), notice)) for channel in channels_of(settings)]
    worked = True
    for rig, url in rigs.items():
        worked &= _test_process(folder, rig, report)
        if url is not None and url.scheme in ("mqtt", "mqtts"):
            whose = f" of “{rig}”" if len(rigs) > 1 else ""
            worked &= _test_broker(url, Message(rig, notice), whose, clock, report)
        if url is not None and settings.rig_buzzer and reaches_rig_by_cable(notice.name, url.text):
            attempts.append(_Attempt(BuzzerChannel(folder, rig), Message(rig, notice)))
    for attempt in attempts:
        failure = attempt.failure()
        report(f"{attempt.name} took the test." if failure is None else f"{attempt.name} failed: {failure}.")
        worked &= failure is None
    if not settings.services and not settings.commands:
        report(
            "No service and no command is set; they would stand in notices.toml, in .kettleside beside the recordings."
        )
    return worked


class _Attempt:
    """One message sent by one channel, in a thread, so that the channels are tried side by side."""

    def __init__(self, channel: Channel, message: Message) -> None:
        self.name = channel.name
        self._channel = channel
        self._message = message
        self._failure: str | None = f"it took longer than {LONGEST_S:.0f} s"
        self._thread = threading.Thread(target=self._send, daemon=True)
        self._thread.start()

    def _send(self) -> None:
        try:
            self._channel.send(self._message)
        except SendError as error:
            self._failure = error.why
        else:
            self._failure = None

    def failure(self) -> str | None:
        """Why the message was not sent, after at most 40 s of waiting; None where it was."""
        self._thread.join(LONGEST_S)
        return self._failure


def _test_process(folder: Path, rig: str, report: Callable[[str], None]) -> bool:
    with NotifierLock(folder, rig) as lock:
        runs = not lock.acquire()
    report(
        f"The notices of “{rig}” are running."
        if runs
        else f"The notices of “{rig}” are not running: “kettleside start” runs them."
    )
    return runs


def _test_broker(url: SourceUrl, message: Message, whose: str, clock: Clock, report: Callable[[str], None]) -> bool:
    from monitor.sources import MqttPublisher

    troubles: list[str] = []

    def collect(text: str, _level: Level = Level.NOTE, /) -> None:
        troubles.append(text)

    try:
        publisher = MqttPublisher(url, clock, collect)
    except MonitorError as error:
        report(str(error))
        return False
    publisher.publish(f"kettleside/{message.rig}/notice", message.notice.as_json())
    end_s = clock.real_s() + BROKER_WITHIN_S
    while not publisher.emptied and clock.real_s() < end_s:
        publisher.tend()
    worked = publisher.emptied
    publisher.close()
    why = (troubles or ["It does not answer."])[-1]
    report(f"The broker{whose} took the test." if worked else f"The broker{whose} failed: {why}")
    return worked
