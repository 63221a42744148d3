"""Every messenger that the settings name, each in a round of its own, as the settings are now."""

from pathlib import Path

from monitor.notifications.channels.apprise import AppriseChannel
from monitor.notifications.channels.buzzer import BuzzerChannel, goes_by_cable
from monitor.notifications.channels.channel import Channel, Message
from monitor.notifications.channels.command import CommandChannel
from monitor.notifications.channels.worker import ChannelWorker
from monitor.notifications.settings import NoticeSettings
from monitor.notifications.store import load_notice_settings, settings_stamp
from monitor.runtime import Clock, Level, MonitorError, Report
from monitor.storage import WatchedFolder


def channels_of(settings: NoticeSettings) -> list[Channel]:
    """The messengers of these settings."""
    return [*map(AppriseChannel, settings.services), *map(CommandChannel, settings.commands)]


class Dispatcher:
    """The settings of a folder, read again when their file changes, and the rounds that all its cookers share.

    A wrong file is said once and changes nothing, and so does one whose folder is away, because a cook under way must
    not fall silent for a slip of the pen or a disk.
    """

    def __init__(self, folder: Path, clock: Clock, say: Report) -> None:
        self.settings = NoticeSettings()
        self._folder = folder
        self._place = WatchedFolder(folder)
        self._clock = clock
        self._say = say
        self._stamp: object = object()
        self._rounds: list[ChannelWorker] = []
        # A cable that fails holds up no other, so each rig has its own.
        self._cables: dict[str, ChannelWorker] = {}
        self.refresh()

    def refresh(self) -> None:
        """Takes in the settings where they have changed."""
        stamp = settings_stamp(self._folder)
        if stamp == self._stamp or (stamp is None and self._place.is_away()):
            return
        self._stamp = stamp
        try:
            settings = load_notice_settings(self._folder)
        except MonitorError as error:
            self._say(f"{error} What was set before goes on.", Level.WARNING)
            return
        if (settings.services, settings.commands) != (self.settings.services, self.settings.commands):
            self._end(self._rounds)
            self._rounds = [ChannelWorker(one, self._clock, self._say) for one in channels_of(settings)]
        self.settings = settings

    def put(self, letter: Message, source: str) -> None:
        """Hands a letter to every messenger; takes no time. source: the rig's, which tells whether it has a cable."""
        for one in self._rounds:
            one.put(letter)
        if self.settings.rig_buzzer and goes_by_cable(letter.notice.name, source):
            if letter.rig not in self._cables:
                buzzer = BuzzerChannel(self._folder, letter.rig)
                self._cables[letter.rig] = ChannelWorker(buzzer, self._clock, self._say)
            self._cables[letter.rig].put(letter)

    def keep_only(self, rig: str, standing: frozenset[str]) -> None:
        """Has every messenger let go of what no longer stands at this cooker."""
        for one in self._rounds:
            one.keep_only(rig, standing)
        if rig in self._cables:
            self._cables[rig].keep_only(rig, standing)

    def close(self) -> None:
        """Ends the rounds."""
        self._end([*self._rounds, *self._cables.values()])
        self._rounds, self._cables = [], {}

    def _end(self, rounds: list[ChannelWorker]) -> None:
        # Every one is told before the first is waited for.
        for one in rounds:
            one.end()
        for one in rounds:
            one.close()
