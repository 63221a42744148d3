"""All commands as one parser, for what tells of every one: completion and the manual page."""

import argparse
from importlib import import_module

from monitor.cli import COMMANDS

DESCRIPTION = "A watch beside the cooker for potassium soap made by the hot process."


def whole_parser() -> argparse.ArgumentParser:
    """The parser of ``kettleside`` with each command of the help as a subcommand."""
    parser = argparse.ArgumentParser(prog="kettleside", description=DESCRIPTION)
    parser.add_argument("--version", action="store_true", help="show the version and end")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, (module_name, line) in COMMANDS.items():
        if line:
            module = import_module(f"monitor.cli.{module_name}")
            module.add_arguments(commands.add_parser(name, help=line, description=module.HELP))
    return parser


def subcommands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Name -> parser of each subcommand, in their order; empty where there are none."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    return {}
