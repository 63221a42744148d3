"""Hands each notice to every channel that the settings name, as the settings are at that moment."""

from pathlib import Path

from monitor.notifications.channels.apprise import AppriseChannel
from monitor.notifications.channels.buzzer import BuzzerChannel, reaches_rig_by_cable
from monitor.notifications.channels.channel import Channel, Message
from monitor.notifications.channels.command import CommandChannel
from monitor.notifications.channels.worker import ChannelWorker
from monitor.notifications.settings import NoticeSettings
from monitor.notifications.store import load_notice_settings, settings_stamp
from monitor.runtime import Clock, Level, MonitorError, Report
from monitor.storage import WatchedFolder


def channels_of(settings: NoticeSettings) -> list[Channel]:
    """The channels of these settings: services first, then commands."""
    return [*map(AppriseChannel, settings.services), *map(CommandChannel, settings.commands)]


class Dispatcher:
    """The settings of a folder, read again when their file changes, and the channels that all its cookers share.

    A wrong file is reported once and changes nothing, and neither does a file whose folder is away, because a cook
    under way must not fall silent for a slip of the pen or a disk.
    """

    def __init__(self, folder: Path, clock: Clock, report: Report) -> None:
        self.settings = NoticeSettings()
        self._folder = folder
        self._place = WatchedFolder(folder)
        self._clock = clock
        self._report = report
        self._stamp: object = object()
        self._workers: list[ChannelWorker] = []
        # By rig: each has a worker of its own, because a cable that fails must not hold up another.
        self._buzzers: dict[str, ChannelWorker] = {}
        self.refresh()

    def refresh(self) -> None:
        """Reads the settings again where they have changed."""
        stamp = settings_stamp(self._folder)
        if stamp == self._stamp or (stamp is None and self._place.is_away()):
            return
        self._stamp = stamp
        try:
            settings = load_notice_settings(self._folder)
        except MonitorError as error:
            self._report(f"{error} What was set before goes on.", Level.WARNING)
            return
        if (settings.services, settings.commands) != (self.settings.services, self.settings.commands):
            _close_all(self._workers)
            self._workers = [ChannelWorker(channel, self._clock, self._report) for channel in channels_of(settings)]
        self.settings = settings

    def dispatch(self, message: Message, source: str) -> None:
        """Hands a message to every channel, waiting for none. source: the address of the rig's source."""
        for worker in self._workers:
            worker.enqueue(message)
        if self.settings.rig_buzzer and reaches_rig_by_cable(message.notice.name, source):
            if message.rig not in self._buzzers:
                buzzer = BuzzerChannel(self._folder, message.rig)
                self._buzzers[message.rig] = ChannelWorker(buzzer, self._clock, self._report)
            self._buzzers[message.rig].enqueue(message)

    def keep_only(self, rig: str, active: frozenset[str]) -> None:
        """Drops unsent messages of this rig unless their notification is still active. active: names."""
        for worker in self._workers:
            worker.keep_only(rig, active)
        if rig in self._buzzers:
            self._buzzers[rig].keep_only(rig, active)

    def close(self) -> None:
        """Ends every channel's worker."""
        _close_all([*self._workers, *self._buzzers.values()])
        self._workers, self._buzzers = [], {}


def _close_all(workers: list[ChannelWorker]) -> None:
    # All are asked to stop before the first is waited for.
    for worker in workers:
        worker.stop()
    for worker in workers:
        worker.close()
