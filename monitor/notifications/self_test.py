"""Tries every way of telling and says of each, in one sentence, whether it worked."""

import threading
from collections.abc import Callable, Mapping
from pathlib import Path

from monitor.notifications.channels.buzzer import BuzzerChannel, goes_by_cable
from monitor.notifications.channels.channel import Channel, Message, SendError
from monitor.notifications.dispatcher import channels_of
from monitor.notifications.repeat import Notice
from monitor.notifications.store import NotifierLock, load_notice_settings
from monitor.runtime import Clock, Level, MonitorError
from monitor.sources import SourceUrl

LONGEST_S = 40.0
BROKER_WITHIN_S = 6.0
WORDS = "This is a test of the notices; nothing is due and nothing is wrong."


def try_all(folder: Path, rigs: Mapping[str, SourceUrl | None], clock: Clock, told: Callable[[str], None]) -> bool:
    """Tries every way, telling one sentence each; whether all worked.

    rigs: each cooker's name and its logger's source; a broker takes a test notice too.
    Raises NoticeFileError, NoticeSettingsError.
    """
    settings = load_notice_settings(folder)
    notice = Notice("test", WORDS, clock.now())
    # The services and programs are shared by all cookers, and one test each is enough.
    tries = [_try_in_thread(one, Message(", ".join(rigs), notice)) for one in channels_of(settings)]
    worked = True
    for rig, url in rigs.items():
        worked &= _try_process(folder, rig, told)
        if url is not None and url.scheme in ("mqtt", "mqtts"):
            whose = f" of “{rig}”" if len(rigs) > 1 else ""
            worked &= _try_broker(url, Message(rig, notice), whose, clock, told)
        if url is not None and settings.rig_buzzer and goes_by_cable(notice.name, url.text):
            tries.append(_try_in_thread(BuzzerChannel(folder, rig), Message(rig, notice)))
    for name, thread, outcome in tries:
        thread.join(LONGEST_S)
        why = outcome[0] if outcome else f"it took longer than {LONGEST_S:.0f} s"
        told(f"{name} took the test." if why is None else f"{name} failed: {why}.")
        worked &= why is None
    if not settings.services and not settings.commands:
        told(
            "No service and no command is set; they would stand in notices.toml, in .kettleside beside the recordings."
        )
    return worked


def _try_in_thread(messenger: Channel, letter: Message) -> tuple[str, threading.Thread, list[str | None]]:
    outcome: list[str | None] = []

    def carry() -> None:
        try:
            messenger.send(letter)
        except SendError as error:
            outcome.append(error.why)
        else:
            outcome.append(None)

    thread = threading.Thread(target=carry, daemon=True)
    thread.start()
    return messenger.name, thread, outcome


def _try_process(folder: Path, rig: str, told: Callable[[str], None]) -> bool:
    with NotifierLock(folder, rig) as right:
        runs = not right.take()
    told(
        f"The notices of “{rig}” are running."
        if runs
        else f"The notices of “{rig}” are not running: “kettleside start” runs them."
    )
    return runs


def _try_broker(url: SourceUrl, letter: Message, whose: str, clock: Clock, told: Callable[[str], None]) -> bool:
    from monitor.sources import MqttPublisher

    troubles: list[str] = []

    def hear(text: str, _level: Level = Level.NOTE, /) -> None:
        troubles.append(text)

    try:
        outbox = MqttPublisher(url, clock, hear)
    except MonitorError as error:
        told(str(error))
        return False
    outbox.publish(f"kettleside/{letter.rig}/notice", letter.notice.as_json())
    end_s = clock.real_s() + BROKER_WITHIN_S
    while not outbox.emptied and clock.real_s() < end_s:
        outbox.tend()
    worked = outbox.emptied
    outbox.close()
    why = (troubles or ["It does not answer."])[-1]
    told(f"The broker{whose} took the test." if worked else f"The broker{whose} failed: {why}")
    return worked
