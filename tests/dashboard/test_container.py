"""The container's files: of Debian and the Python index alone, without root, and with all that they name in its place."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from monitor.cli.whole_parser import whole_parser

ROOT = Path(__file__).resolve().parents[2]
PLACE = ROOT / "dashboard" / "manual" / "container"
# Of the Compose Specification, section "Services top-level elements": the keys that a service may have, of which ours
# has some; and the keys of its "build".
SERVICE = {
    *("build", "cap_drop", "command", "depends_on", "devices", "environment", "group_add", "healthcheck", "image"),
    *("network_mode", "ports", "read_only", "restart", "security_opt", "tmpfs", "user", "volumes"),
}
BUILD = {"context", "dockerfile", "target", "args"}


@pytest.fixture(scope="module")
def stages() -> dict[str, list[tuple[str, str]]]:
    """Name of a stage -> its instructions with their arguments."""
    text = (PLACE / "Dockerfile").read_text(encoding="utf-8").replace("\\\n", " ")
    found: dict[str, list[tuple[str, str]]] = {}
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            word, _, rest = line.partition(" ")
            if word == "FROM":
                image, name = rest.split(" AS ")
                assert image == "debian:trixie-slim"
                found[name] = []
            else:
                found[name].append((word, rest))
    return found


def compose(text: str | None = None) -> dict[str, Any]:
    made: dict[str, Any] = yaml.safe_load(text or (PLACE / "compose.yaml").read_text(encoding="utf-8"))
    return made


def all_of(stage: list[tuple[str, str]], word: str) -> list[str]:
    return [rest for name, rest in stage if name == word]


def test_what_is_copied_is_there(stages: dict[str, list[tuple[str, str]]]) -> None:
    copied = [rest.split()[:-1] for stage in stages.values() for rest in all_of(stage, "COPY") if "--from" not in rest]
    assert copied and all((ROOT / name).exists() for names in copied for name in names)
    assert {"requirements.txt", "monitor", "dashboard"} <= {name for names in copied for name in names}


@pytest.mark.parametrize("name", ["broker", "kettleside"])
def test_a_container_runs_without_root_and_says_whether_it_is_well(
    stages: dict[str, list[tuple[str, str]]], name: str
) -> None:
    words = [word for word, _ in stages[name]]
    assert all_of(stages[name], "USER") == [{"broker": "mosquitto"}.get(name, name)]
    assert words.index("USER") > max(place for place, word in enumerate(words) if word == "RUN")
    assert len(all_of(stages[name], "HEALTHCHECK")) == len(all_of(stages[name], "VOLUME")) == 1
    service = compose()["services"][name]
    assert service["read_only"] and service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]


def test_the_command_is_one_that_the_program_takes(stages: dict[str, list[tuple[str, str]]]) -> None:
    (words,) = all_of(stages["kettleside"], "CMD")
    args = whole_parser().parse_args(json.loads(words))
    (volume,) = all_of(stages["kettleside"], "VOLUME")
    # What is not in the volume is lost with the container.
    assert args.command == "start" and args.recordings.is_relative_to(volume)
    environment = " ".join(all_of(stages["kettleside"], "ENV"))
    assert f"XDG_STATE_HOME={volume}/" in environment


def test_the_services_are_those_of_the_images_and_keep_their_folders(stages: dict[str, list[tuple[str, str]]]) -> None:
    made = compose()
    assert set(made) == {"name", "services", "volumes"}
    for name, service in made["services"].items():
        assert set(service) <= SERVICE and set(service["build"]) <= BUILD
        assert service["build"]["target"] == name
        assert (PLACE / service["build"]["context"]).resolve() == ROOT
        assert (ROOT / service["build"]["dockerfile"]) == PLACE / "Dockerfile"
        ((volume, folder),) = (entry.split(":") for entry in service["volumes"])
        assert volume in made["volumes"] and all_of(stages[name], "VOLUME") == [folder]
    assert made["services"]["kettleside"]["depends_on"] == {"broker": {"condition": "service_healthy"}}


def test_the_lines_for_a_cable_are_right_once_they_are_taken_in() -> None:
    text = (PLACE / "compose.yaml").read_text(encoding="utf-8")
    service = compose(re.sub(r"^    # (?=devices:|group_add:|command:)", "    ", text, flags=re.MULTILINE))["services"][
        "kettleside"
    ]
    args = whole_parser().parse_args(service["command"])
    (device,) = service["devices"]
    assert args.source == [f"serial://{device.partition(':')[0]}"] and service["group_add"] == ["20"]
