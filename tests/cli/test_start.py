"""``kettleside start`` as a person starts it: three processes, one started again when it dies, none left over."""

import argparse
import signal
from pathlib import Path

import pytest

from monitor.cli import log, notices, start
from monitor.formulation import SheetError, read_sheet
from monitor.logger import rig_configs
from monitor.sources import parse_source_url
from monitor.storage import keep_sheet, load, recordings
from tests.cli.processes import alive, children_of, until
from tests.cli.started import Started
from tests.logger.running import CLOCK, Sender, seqs, wait_until_stored
from tests.sources.polling import Terminal


def test_several_cookers_have_a_logger_each_and_share_the_rest() -> None:
    parser = argparse.ArgumentParser()
    start.add_arguments(parser)
    words = ["--source", "left=serial:///dev/a", "--source", "mqtt://host/kettleside/right/readings"]
    args = parser.parse_args([*words, "--recordings", "cooks"])
    children = start.children(rig_configs(args.source), args)
    assert [child.name for child in children] == ["logger of left", "logger of right", "dashboard", "notices"]
    told = argparse.ArgumentParser()
    notices.add_arguments(told)
    command, *rest = children[-1].argv
    assert command == "notices" and told.parse_args(rest).recordings == Path("cooks")
    # What it is given names the same cookers again, whatever their topics say.
    assert rig_configs(told.parse_args(rest).source) == rig_configs(args.source)


def test_a_cooker_takes_a_kept_sheet_by_its_name_as_well_as_a_file(tmp_path: Path) -> None:
    kept = keep_sheet(tmp_path, read_sheet('title = "Hand soap"\n[[oil]]\nname = "olive"\ngrams = 500'))
    parser = argparse.ArgumentParser()
    start.add_arguments(parser)

    def sheet_of(named: str) -> Path | None:
        args = parser.parse_args(["--source", "rig:", "--batch", named, "--recordings", str(tmp_path)])
        return start.checked_cookers(args, args.recordings)[0].batch

    assert sheet_of("hand-soap") == sheet_of(str(kept)) == kept
    with pytest.raises(SheetError, match="soft-soap"):
        sheet_of("soft-soap")


def test_several_sources_of_one_cooker_go_to_its_one_logger() -> None:
    parser = argparse.ArgumentParser()
    start.add_arguments(parser)
    urls = ["serial:///dev/a?channel=paste:Cel", "mqtt://host/air?field=t:room:Cel"]
    args = parser.parse_args([word for url in urls for word in ("--source", f"pot={url}")])
    logger, _, told = start.children(rig_configs(args.source), args)
    assert [logger.argv[place + 1] for place, word in enumerate(logger.argv) if word == "--source"] == urls
    of_log = argparse.ArgumentParser()
    log.add_arguments(of_log)
    assert of_log.parse_args(logger.argv[1:]).source == urls
    # The notices publish through the broker among them.
    of_notices = argparse.ArgumentParser()
    notices.add_arguments(of_notices)
    configs = rig_configs(of_notices.parse_args(told.argv[1:]).source)
    assert configs[0].sources == tuple(urls)
    assert notices.rigs_told_of(of_notices.parse_args(told.argv[1:]))["pot"] == parse_source_url(urls[1])


@pytest.mark.long
def test_a_killed_process_is_restarted_with_all_committed_packs(tmp_path: Path) -> None:
    """A hundred times at random moments by ``python -m tests.bench.killed``."""
    terminal, folder = Terminal(), tmp_path / "cooks"
    with (tmp_path / "output").open("w+") as output:
        supervisor = Started(folder, f"serial://{terminal.path}", output)
        sender = Sender(terminal)
        try:
            wait_until_stored(folder, 0)
            until(supervisor.answers)
            until(lambda: len(children_of(supervisor.process.pid)) == 3)
            before = children_of(supervisor.process.pid)
            for part in ("logger", "dashboard", "notices"):
                supervisor.kill(part)
            until(lambda: len(children_of(supervisor.process.pid)) == 3)
            assert not set(before) & set(children_of(supervisor.process.pid))
            wait_until_stored(folder, len(sender.sent_s))
            until(supervisor.answers)
            # As systemd would start it again.
            committed, killed_s = seqs(folder), CLOCK.real_s()
            supervisor.kill("supervisor")
            supervisor.start()
            wait_until_stored(folder, len(sender.sent_s))
            assert CLOCK.real_s() - killed_s < 3.0
            until(supervisor.answers)
            assert seqs(folder)[: len(committed)] == committed
        finally:
            sender.close()
            status = supervisor.end(signal.SIGINT)
            terminal.close()
        output.seek(0)
        words = output.read()
    assert status == 130 and "Traceback" not in words
    assert not any(alive(pid) for pid in supervisor.seen)
    (path,) = recordings(folder)
    assert [event.kind for event in load(path).events].count("resumed") == 2
    assert len(seqs(folder)) == len(set(seqs(folder)))
