"""``kettleside completion``: what a shell needs to complete the commands with the tabulator key."""

import argparse
from pathlib import Path

HELP = "Prints what bash, zsh or tcsh needs to complete the commands; the manual says where it goes."
_SHELLS = ("bash", "zsh", "tcsh")
_FOLDERS = ("DIR", "FOLDER")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("shell", choices=_SHELLS, help="the shell")


def run(args: argparse.Namespace) -> int:
    """Prints the script."""
    import shtab

    from monitor.cli.whole_parser import whole_parser

    parser = whole_parser()
    _complete_paths(parser)
    print(shtab.complete(parser, shell=args.shell))
    return 0


def _complete_paths(parser: argparse.ArgumentParser) -> None:
    """Has each argument that is a path completed as a file or a folder."""
    import shtab

    from monitor.cli.whole_parser import subcommands

    for action in parser._actions:
        if action.type is Path:
            action.complete = shtab.DIR if action.metavar in _FOLDERS else shtab.FILE  # type: ignore[attr-defined]
    for one in subcommands(parser).values():
        _complete_paths(one)
