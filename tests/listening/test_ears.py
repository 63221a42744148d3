"""Hearing a real broker and real terminals, the speed of a port, and what is said where nothing can be heard."""

import os
import subprocess
import termios
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.listening import Ear, Heard, Listener, open_ear
from monitor.sources import SourceError, parse_source_url
from tests.listening.senders import KETTLESIDE, printed
from tests.sources.mosquitto import Mosquitto, Rig, free_port
from tests.sources.polling import CLOCK, PATIENCE_S, Terminal


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


def hear(ear: Ear, enough: Callable[[list[Heard]], bool]) -> list[Heard]:
    """Everything heard until it is enough."""
    found: list[Heard] = []
    end_s = CLOCK.real_s() + PATIENCE_S
    while not enough(found):
        assert CLOCK.real_s() < end_s, f"only {found[-3:]}, and {ear.problems}"
        found += ear.poll(0.1)
    return found


def problem_of(ear: Ear) -> str:
    """What is said to be wrong, as soon as anything is."""
    assert hear(ear, lambda _heard: bool(ear.problems)) == []
    return ear.problems[0]


def opened(url: str) -> Ear:
    return open_ear(parse_source_url(url), CLOCK)


def test_the_lines_of_a_terminal_are_heard_but_not_the_end_of_one(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as ear:
        ear.poll(0.0)
        terminal.send(b".5\r\n93.5\r\n\r\n" + b"9" * 5000 + b"\n94.0\n")
        found = hear(ear, lambda heard: len(heard) >= 3)
    assert [one.payload[:8].strip() for one in found] == [b"93.5", b"99999999", b"94.0"]
    assert {one.place for one in found} == {terminal.path} and max(len(one.payload) for one in found) < 4200


@pytest.mark.parametrize("baud", [9600, 38400])
def test_the_speed_of_a_port_is_found_by_trying(terminal: Terminal, baud: int) -> None:
    url = parse_source_url(f"serial://{terminal.path}")
    code = getattr(termios, f"B{baud}")

    def line(number: int) -> bytes:
        # As a converter at another speed hands on what a sketch prints.
        right = termios.tcgetattr(terminal.rig)[5] == code
        return b"93.5\r\n" if right else bytes((number * 37 + place * 61) % 128 + 128 for place in range(8))

    listener = Listener(url)
    with printed(terminal, line), closing(open_ear(url, CLOCK)) as ear:
        hear(ear, lambda heard: any(one.payload.strip() == b"93.5" for one in heard))
        for one in hear(ear, lambda heard: len(heard) >= 2):
            listener.hear(one)
        for place, options in ear.options().items():
            listener.set_options(place, options)
    proposal = listener.proposal()
    assert proposal is not None
    assert proposal.sources == (f"serial://{terminal.path}?baud={baud}&channel=paste:degC",)


def test_a_port_that_another_program_holds_is_told(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as first:
        first.poll(0.0)
        with closing(opened(f"serial://{terminal.path}")) as second:
            assert problem_of(second) == f"The port {terminal.path} is held by another program."


def test_a_port_that_is_pulled_is_told_and_heard_again(tmp_path: Path) -> None:
    link, first = tmp_path / "rig", Terminal()
    link.symlink_to(first.path)
    with closing(opened(f"serial://{link}")) as ear:
        ear.poll(0.0)
        first.close()
        assert problem_of(ear) == f"The port {link} was closed at its other end."
        second = Terminal()
        link.unlink()
        link.symlink_to(second.path)
        with printed(second, lambda _number: b"93.5\n"):
            assert hear(ear, bool)[0].payload == b"93.5"
        assert ear.problems == ()
        second.close()


@pytest.mark.parametrize("url", ["rig:", "mqtt:///x", "mqtt://h/a+/b", "serial://dev/x", "serial:///dev/x?baud=fast"])
def test_what_cannot_be_listened_to_is_refused(url: str) -> None:
    with pytest.raises(SourceError):
        opened(url)


@pytest.mark.broker
def test_every_topic_of_a_broker_is_heard_or_a_part(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path).start()
    rig = Rig(broker.port)
    rig.send(b"\xff\x00", to="kept", retained=True)
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}")) as ear:
        (kept,) = hear(ear, bool)
        assert (kept.place, kept.payload, kept.retained) == ("kettleside/cooker/kept", b"\xff\x00", True)
        rig.send("93.5", to="temp")
        (live,) = hear(ear, bool)
        assert (live.place, live.payload, live.retained) == ("kettleside/cooker/temp", b"93.5", False)
        # A broker holds back after twenty messages that were not acknowledged.
        for number in range(60):
            rig.send(str(number), to="temp")
        assert len(hear(ear, lambda heard: len(heard) >= 60)) == 60
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/other/#")) as ear:
        hear_nothing = ear.poll(0.5) + ear.poll(0.2)
        assert hear_nothing == [] and ear.problems == ()
    rig.close()
    broker.stop()


@pytest.mark.broker
def test_a_broker_that_refuses_is_told_in_one_sentence(tmp_path: Path) -> None:
    with closing(opened(f"mqtt://127.0.0.1:{free_port()}")) as ear:
        assert problem_of(ear).endswith("refuses the connection; is it running?")
    (tmp_path / "passwords").write_text("")
    locked = Mosquitto(tmp_path, "allow_anonymous false", f"password_file {tmp_path}/passwords").start()
    with closing(opened(f"mqtt://127.0.0.1:{locked.port}")) as ear:
        assert "wants a user and a password" in problem_of(ear)
    with closing(opened(f"mqtt://anna@127.0.0.1:{locked.port}")) as ear:
        assert "refuses the user anna" in problem_of(ear)
    locked.stop()


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("mqtt://127.0.0.1:1", "--seconds", "1"), 1, "The broker 127.0.0.1:1 refuses the connection; is it running?"),
        (("/dev/nowhere", "--seconds", "1", "--json"), 1, "The port /dev/nowhere is not there; look at the cable."),
        (("mqtt://h/a+/b",), 2, "'a+/b' is no topic filter"),
        (("mqtt://h", "--seconds", "-1"), 2, "it must be from 0.5 to 86400"),
    ],
)
def test_the_command_says_in_one_sentence_why_it_heard_nothing(words: tuple[str, ...], status: int, said: str) -> None:
    done = subprocess.run([*KETTLESIDE, "listen", *words], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == status and "Traceback" not in done.stderr
    (last,) = [line for line in done.stderr.splitlines() if line.startswith("kettleside")]
    assert said in last


def test_the_command_draws_on_a_terminal_and_proposes_until_ctrl_c(terminal: Terminal) -> None:
    ours, theirs = os.openpty()
    with printed(terminal, lambda number: f"9{number % 3}.5\n".encode()):
        command = [*KETTLESIDE, "listen", f"serial://{terminal.path}"]
        process = subprocess.Popen(command, stdout=theirs, stdin=theirs, env={**os.environ, "COLUMNS": "200"})
        os.close(theirs)
        said = b""
        while b"To read it: kettleside log --source" not in said:
            said += os.read(ours, 65536)
        process.send_signal(2)
        assert process.wait(PATIENCE_S) == 0
        said += os.read(ours, 65536)
    os.close(ours)
    assert b"channel=paste:degC" in said and b"With the page and the notices:" in said
