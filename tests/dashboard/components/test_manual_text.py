"""The manual's passages are found by words: every alarm by its name, every refusal by its sentence."""

import re
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import pytest

import dashboard
import monitor
from dashboard.auth.access_control import DashboardError
from dashboard.auth.access_list import AccessListError
from dashboard.auth.ticks import TickError
from dashboard.bench.form import FieldError
from dashboard.components.answers import AskedError
from dashboard.components.manual_text import INDEX, alarm_address, page_names, page_text, passages, passages_of, search
from dashboard.routes.self_test import BusyError
from monitor.calibration import CalibrationUsageError, UnsteadyReadingError
from monitor.chemistry import OutOfRangeError
from monitor.cli.demo import PagePortError
from monitor.cli.event import EventError
from monitor.cli.files import CopyError
from monitor.cli.listen import NothingFoundError
from monitor.cli.manual import MOST_SHOWN
from monitor.cli.pages import PagesMissingError
from monitor.cli.phones import UnknownDeviceError
from monitor.cli.resolve import ManyCooksError, NoCookRunsError
from monitor.cli.serve import ServeUsageError
from monitor.cli.sums_batch import SumError
from monitor.exchange import ExchangeError
from monitor.exchange.parquet import ParquetError
from monitor.formulation import SheetError
from monitor.logger.lock import SecondLoggerError
from monitor.logger.rig_config import RigConfigError
from monitor.model import NAMES, is_name
from monitor.notifications.channels.channel import SendError
from monitor.notifications.page_services import TakenNameError
from monitor.notifications.settings import NoticeSettingsError
from monitor.notifications.store import NoticeFileError
from monitor.planning import PlanError
from monitor.plots import PlotError
from monitor.protocol import PackError
from monitor.runtime import MonitorError
from monitor.session import KitchenFileError
from monitor.session.stream import LineError
from monitor.simulator.device import AddressError, DeviceError
from monitor.sources import SourceError
from monitor.sources.mqtt_client import BrokerError
from monitor.sources.serial_port import PortError
from monitor.stock import StockError
from monitor.storage import CalibrationError, FolderAwayError, KeptSheetError, RecordingError

# An error of each class as the program raises it, and the heading under which the manual tells what to do.
REFUSALS = (
    (OutOfRangeError("excess", 0.8, -0.2, 0.5), "A number out of its range"),
    (SheetError("[alkali]", "there is no key 'asay'; the nearest is 'assay'"), "The batch sheet is wrong at ..."),
    (KeptSheetError("hand-soap", "there is none of that name"), "The sheet of that name"),
    (PlanError("the shares add up to 90 %, not 100"), "It cannot be planned so"),
    (StockError("there is no olive with the lot R-12"), "The stock: ..."),
    (SumError("give --batch or --oil, not both"), "The sum cannot be made"),
    (FieldError("koh", "The field takes a number from 0 to 100."), "A field of the bench"),
    (PackError("it is not JSON"), "Not a pack"),
    (SourceError("mqtt://pi", "it names no topic"), "The source is not one"),
    (PortError("/dev/ttyUSB0", "is not there"), "The port ..."),
    (BrokerError("The broker pi:1883 refuses the user or the password."), "The broker ..."),
    (NothingFoundError("Nothing was heard within 10 s that can be read."), "Nothing was heard"),
    (SecondLoggerError("pot", Path("recordings")), "Another logger already records the cooker"),
    (RigConfigError("Two sources have the same cooker's name; put a name in front."), "Cookers that cannot be told apart"),
    (RecordingError(Path("may.cook"), "there is no such file"), "A recording, or: no such cook"),
    (FolderAwayError(Path("recordings/may.cook")), "The recordings folder is away"),
    (ManyCooksError("may", ("may-1", "may-2")), "May mean several cooks"),
    (NoCookRunsError("No cook runs in recordings."), "No cook runs"),
    (EventError("event is 'stir', which is not a known kind"), "Nothing was logged"),
    (LineError("A pack in a stream needs absolute times"), "A line of the stream"),
    (CalibrationError(Path("probes.jsonl"), "permission denied"), "The calibrations cannot be used"),
    (UnsteadyReadingError("The reading is not steady after 120 s; stir the bath."), "The reading is not steady"),
    (CalibrationUsageError("A calibration takes one converter; the channel ph has none."), "A calibration with wrong arguments"),
    (NoticeSettingsError("'agian_minutes'", "there is no such key"), "The notice settings are wrong at ..."),
    (NoticeFileError(Path("notices.toml"), "others may read it"), "The file of the notices cannot be used"),
    (SendError("the service did not answer"), "The notice was not sent"),
    (TakenNameError("Bell"), "Something is called that already"),
    (KitchenFileError("check_min", "it must be from 0 to 600"), "The kitchen's file"),
    (ExchangeError(Path("cook.zip"), "it is no zip file that can be read"), "A package, a zip or a table that cannot be read"),
    (ParquetError("Parquet needs pyarrow: pip install pyarrow."), "Parquet cannot be written"),
    (PlotError(Path("cook.svg"), "a picture takes kaleido"), "A picture that cannot be written"),
    (CopyError(Path("firmware_notes/rig.py"), "no space left"), "A file that cannot be copied"),
    (DeviceError("terminal", "it is gone"), "The virtual rig cannot use ..."),
    (AddressError("broker", "it is no address"), "The virtual rig cannot use ..."),
    (PagesMissingError(), "The pages are not installed"),
    (ServeUsageError("--tls-cert takes --tls-key: a certificate is of no use without its key."), "The page cannot be served as asked"),
    (DashboardError("The page cannot be served at that address: it is not this machine's."), "The page cannot be served as asked"),
    (PagePortError(8050, "address already in use"), "Nothing can listen on that port"),
    (AccessListError(Path("phones.json"), "permission denied"), "The list of phones cannot be used"),
    (UnknownDeviceError("abc"), "Nobody here has that id"),
    (BusyError(), "A test is under way already"),
    (TickError("permission denied"), "This cannot be kept beside the recordings"),
    (AskedError("The request must be a JSON object."), "A page's request that cannot be done"),
)  # fmt: skip


def error_classes() -> set[type[MonitorError]]:
    """Every error of the program, from all of its modules."""
    for package in (monitor, dashboard):
        for module in walk_packages(package.__path__, f"{package.__name__}."):
            if not module.name.endswith("__main__"):
                import_module(module.name)
    found, new = set(), {MonitorError}
    while new:
        new = {below for above in new for below in above.__subclasses__()}
        found |= new
    return {one for one in found if one.__module__.partition(".")[0] in ("monitor", "dashboard")}


def test_every_class_of_error_has_its_sentence_here() -> None:
    assert error_classes() == {type(error) for error, _ in REFUSALS}


@pytest.mark.parametrize(("error", "heading"), REFUSALS, ids=[type(error).__name__ for error, _ in REFUSALS])
def test_a_refusal_is_found_by_its_sentence(error: MonitorError, heading: str) -> None:
    shown = [(passage.page, passage.heading) for passage in search(str(error))][:MOST_SHOWN]
    assert ("refusals", heading) in shown


@pytest.mark.parametrize("name", NAMES)
def test_an_alarm_is_found_by_its_name(name: str) -> None:
    first = search(name)[0]
    assert (first.page, first.heading) == ("alarms", name)


def test_each_alarm_has_an_address_that_is_there() -> None:
    anchors = {passage.anchor for passage in passages_of("alarms")}
    of_probes = [f"wall/2 probe {kind}" for kind in ("open", "shorted", "fault", "jumped", "frozen")]
    for name in (*NAMES, *of_probes, "no room data", "wall unit unknown"):
        assert is_name(name)
        page, _, anchor = alarm_address(name).partition("#")
        assert page == "/manual/alarms" and anchor in anchors


def test_the_nearest_come_first_and_nothing_comes_of_nothing() -> None:
    assert search("") == [] and search("--- ?") == [] and search("xyzzy") == []
    assert search("STIR, due!")[0].heading == "stir due"
    assert search("certif")[0].heading == "The browser warns of the certificate"
    assert search("metrics")[0].page == "scripts"


def test_what_was_new_comes_after_what_tells_how() -> None:
    assert search("jar test")[0].page == "bench"


def test_a_passage_ends_where_the_next_heading_begins_and_no_comment_in_a_block_is_one() -> None:
    first, second = passages_of("notices")[:2]
    assert first.heading == first.title == "Notices" and second.heading == "Settings"
    assert "chmod 600" in second.text and "chmod 600" not in first.text
    assert {passage.page for passage in passages()} == set(page_names()) - {INDEX}


def test_links_between_pages_lead_to_headings_that_are_there() -> None:
    for name in page_names():
        for page, anchor in re.findall(r"\]\((?:([\w-]+)\.md)?#([\w-]+)\)", page_text(name)):
            assert anchor in {passage.anchor for passage in passages_of(page or name)}, (
                f"{name} leads to {page}#{anchor}"
            )


@pytest.mark.parametrize("name", page_names())
def test_anchors_of_a_page_are_told_apart(name: str) -> None:
    anchors = [passage.anchor for passage in passages_of(name)]
    assert len(set(anchors)) == len(anchors) and all(anchors)


def test_passages_are_short_enough_for_a_phone() -> None:
    whole = ("changes", "commands", "threat-model", "first-cook")
    long = {passage.heading: len(passage.text.split()) for passage in passages() if passage.page not in whole}
    assert max(long.values()) <= 400, long
