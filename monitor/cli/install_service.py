"""``kettleside install-service``: prints a systemd unit and a udev rule, to be put in place by hand."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.serve import add_page_arguments, page_argv
from monitor.cli.start import add_cooker_arguments

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.logger import RigConfig
    from monitor.ops import ServiceRequest
    from monitor.sources import UsbPort

HELP = (
    "Prints a systemd unit that runs `kettleside start` with the same arguments, and a udev rule that gives each USB "
    "port a name that stays. It writes nothing: you put them in place."
)
STATE = Path("/var/lib/kettleside")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--print",
        dest="what",
        nargs="?",
        const="all",
        choices=("all", "unit", "rule"),
        required=True,
        help="what to print: both with what to do with them, or one alone, fit for a file",
    )
    parser.add_argument("--personal", action="store_true", help="a unit of your own account, not of the whole machine")
    add_cooker_arguments(parser)
    parser.add_argument(
        "--recordings",
        type=Path,
        metavar="DIR",
        help=f"where the cooks are ({STATE}; with --personal your ~/kettleside)",
    )
    add_page_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Prints the texts, and warns on standard error of what stands in the way. Raises MonitorError."""
    from monitor.cli.start import checked_cookers
    from monitor.ops import RULE_NAME, UNIT_NAME, rule, unit
    from monitor.runtime import Level, Reporter

    recordings = args.recordings or (Path.home() / "kettleside" if args.personal else STATE)
    rigs = checked_cookers(args, recordings)
    ports = _usb_ports(rigs)
    request = _service_request(rigs, dict(ports), recordings.absolute(), args)
    texts = {"unit": unit(request), "rule": rule(ports)}
    report = Reporter("install-service")
    for text in _obstacles(rigs, dict(ports), request):
        report(text, Level.WARNING)
    if args.what != "all":
        print(texts[args.what], end="")
        return 0
    print("\n".join(_steps(request, _command_line(args), has_rule=bool(ports))))
    for name, text in ((UNIT_NAME, texts["unit"]), (RULE_NAME, texts["rule"])):
        if text:
            print(f"\n# {name}\n{text}", end="")
    return 0


def _serial_path(source: str) -> str | None:
    from monitor.sources import parse_source_url

    url = parse_source_url(source)
    return url.path if url.scheme == "serial" and url.path else None


def _usb_ports(rigs: "tuple[RigConfig, ...]") -> "list[tuple[str, UsbPort]]":
    from monitor.sources import usb_port

    paths = [(cooker.name, _serial_path(cooker.source)) for cooker in rigs]
    ports = [(name, usb_port(path)) for name, path in paths if path is not None]
    return [(name, port) for name, port in ports if port is not None]


def _service_request(
    rigs: "tuple[RigConfig, ...]", ports: "Mapping[str, UsbPort]", recordings: Path, args: argparse.Namespace
) -> "ServiceRequest":
    import sys

    from monitor.ops import ServiceRequest

    argv = [sys.executable, "-m", "monitor.cli", "start"]
    used = [Path(sys.prefix), Path(__file__), recordings]
    stable = {cooker.name: _stable_sources(cooker, cooker.name in ports) for cooker in rigs}
    sources = [source for named in stable.values() for source in named]
    for cooker in rigs:
        argv += [word for source in stable[cooker.name] for word in ("--source", f"{cooker.name}={source}")]
        if cooker.batch is not None:
            batch = cooker.batch.absolute()
            argv += ["--batch", f"{cooker.name}={batch}"]
            used.append(batch)
        if cooker.columns is not None:
            argv += ["--columns", f"{cooker.name}={cooker.columns}"]
        for text in cooker.renamings:
            argv += ["--as", f"{cooker.name}={text}"]
    argv += ["--recordings", str(recordings), *page_argv(args)]
    place = "%h/.config/kettleside" if args.personal else "/etc/kettleside"
    return ServiceRequest(
        tuple(argv),
        recordings,
        of_person=args.personal,
        password=f"{place}/mqtt-password" if any("=@mqtt-password" in source for source in sources) else None,
        serial=any(source.startswith("serial:") for source in sources),
        homes=any(path.is_relative_to(home) for path in used for home in ("/home", "/root")),
    )


def _stable_sources(cooker: "RigConfig", has_stable_name: bool) -> list[str]:
    """The sources, the first by its port's stable name, with the password from the place where systemd puts it."""
    from monitor.ops import CREDENTIAL, port_name
    from monitor.sources import parse_source_url

    sources = []
    for place, source in enumerate(cooker.sources):
        url = parse_source_url(source)
        if has_stable_name and place == 0:
            sources.append(source.replace(url.path, f"/dev/{port_name(cooker.name)}", 1))
        elif url.scheme in ("mqtt", "mqtts") and url.user is not None and "password_file" not in url.options:
            sources.append(f"{source}{'&' if url.options else '?'}password_file=@{CREDENTIAL}")
        else:
            sources.append(source)
    return sources


def _obstacles(rigs: "tuple[RigConfig, ...]", ports: "Mapping[str, UsbPort]", request: "ServiceRequest") -> list[str]:
    import sys

    from monitor.ops import ACCOUNT

    texts = []
    for cooker in rigs:
        path = _serial_path(cooker.source)
        if path is not None and cooker.name not in ports:
            texts.append(
                f"{path} is no USB port that is plugged in just now, so there is no rule for it; "
                "plug it in and ask again."
            )
    closed = None if request.of_person else next(filter(None, map(_closed_folder, {sys.prefix, __file__})), None)
    if closed is not None:
        texts.append(
            f"The account {ACCOUNT} cannot look into {closed}, where the program lies; install it in a folder for all, "
            "such as /opt/kettleside, or choose --personal."
        )
    return texts


def _closed_folder(place: str) -> Path | None:
    """The outermost folder above this path that is not open to everybody, or None."""
    parents = reversed(Path(place).absolute().parents)
    return next((folder for folder in parents if not folder.stat().st_mode & 0o001), None)


def _command_line(args: argparse.Namespace) -> str:
    """This command line again, to be completed with what to print."""
    import shlex

    options = [("--source", text) for text in args.source]
    options += [("--batch", text) for text in args.batch] + [("--columns", text) for text in args.columns]
    options += [("--as", text) for text in args.renamings]
    options += [("--rig", args.rig)] if args.rig != "cooker" else []
    options += [("--recordings", str(args.recordings))] if args.recordings else []
    words = (
        [word for option in options for word in option] + page_argv(args) + (["--personal"] if args.personal else [])
    )
    return f"kettleside install-service {shlex.join(words)} --print"


def _steps(request: "ServiceRequest", command_line: str, *, has_rule: bool) -> list[str]:
    from monitor.ops import ACCOUNT, CREDENTIAL, RULE_NAME, UNIT_NAME

    folder = str(request.recordings)
    steps = ["# Nothing has been written. Put it in place with:"]
    if has_rule:
        steps += [
            f"#   {command_line} rule | sudo tee /etc/udev/rules.d/{RULE_NAME}",
            "#   sudo udevadm control --reload && sudo udevadm trigger --subsystem-match=tty",
        ]
    if request.of_person:
        steps += [
            *(["#   sudo usermod -aG dialout $USER      # then log in anew"] if request.serial else []),
            f"#   mkdir -p {folder} ~/.config/systemd/user",
            f"#   {command_line} unit > ~/.config/systemd/user/{UNIT_NAME}",
            *(
                [f"#   (umask 077; mkdir -p ~/.config/kettleside; cat > ~/.config/kettleside/{CREDENTIAL})"]
                * bool(request.password)
            ),
            "#   loginctl enable-linger              # it runs while you are not logged in",
            f"#   systemctl --user daemon-reload && systemctl --user enable --now {UNIT_NAME}",
            f"# What it says: journalctl --user -u {UNIT_NAME}; only what is wrong: add -p warning",
        ]
        return steps
    steps += [
        f"#   sudo useradd --system --no-create-home --home-dir {folder} --shell /usr/sbin/nologin {ACCOUNT}",
        f"#   sudo install -d -o {ACCOUNT} -g {ACCOUNT} -m 0750 {folder}",
        *(
            [f"#   sudo install -D -m 0600 /dev/stdin /etc/kettleside/{CREDENTIAL}      # then type it, Ctrl-D"]
            * bool(request.password)
        ),
        f"#   {command_line} unit | sudo tee /etc/systemd/system/{UNIT_NAME}",
        f"#   sudo systemctl daemon-reload && sudo systemctl enable --now {UNIT_NAME}",
        f"# The page's key: sudo cat {folder}/.kettleside/pairing-key",
        f"# What it says: journalctl -u {UNIT_NAME}; only what is wrong: add -p warning",
    ]
    return steps
