"""``kettleside files``: what came with the program beside its code."""

import argparse
from collections.abc import Mapping
from pathlib import Path

from monitor.runtime import MonitorError

HELP = "Says where the sample cooks and the firmware notes are that came with the program, or copies them."

# pyproject.toml puts them there; in a clone they are where they are.
_SHARE = "share/kettleside/"
_IN_CLONE = ("recordings/*-invented-*.cook", "recordings/*.md", "firmware_notes/**/*.*")


class CopyError(MonitorError):
    """A file that came with the program and cannot be copied. path: where to; why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"{path} cannot be written: {why}.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("--to", type=Path, metavar="DIR", help="copy them into this folder; nothing is overwritten")


def run(args: argparse.Namespace) -> int:
    """Prints one path a line, or copies. Raises CopyError."""
    for name, path in sorted(shipped_files().items()):
        print(path if args.to is None else _copy(path, args.to / name))
    return 0


def shipped_files() -> Mapping[str, Path]:
    """Name, such as ``firmware_notes/rig.py`` -> the file, of this installation."""
    from importlib.metadata import PackageNotFoundError, files

    try:
        installed = [(file.as_posix(), file) for file in files("kettleside") or ()]
    except PackageNotFoundError:
        installed = []
    found = {name.rpartition(_SHARE)[2]: Path(file.locate()).resolve() for name, file in installed if _SHARE in name}
    if found:
        return found
    clone = Path(__file__).parents[2]
    return {
        path.relative_to(clone).as_posix(): path
        for pattern in _IN_CLONE
        for path in clone.glob(pattern)
        if path.is_file() and "__pycache__" not in path.parts
    }


def _copy(path: Path, to: Path) -> Path:
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        with to.open("xb") as file:
            file.write(path.read_bytes())
    except OSError as error:
        raise CopyError(to, (error.strerror or str(error)).lower()) from None
    return to
