"""``kettleside man``: the manual page for man(1), made from the parsers of all commands."""

import argparse
from collections.abc import Iterator

HELP = "Prints the manual page for man(1); the manual says where it goes."


def add_arguments(_parser: argparse.ArgumentParser) -> None:
    """Declares nothing."""


def run(_args: argparse.Namespace) -> int:
    """Prints the page."""
    from importlib.metadata import version

    from monitor.cli.whole_parser import whole_parser

    print(page(whole_parser(), version("kettleside")))
    return 0


def page(parser: argparse.ArgumentParser, version: str) -> str:
    """The page in the language of man(7)."""
    from monitor.cli.whole_parser import subcommands

    lines = [
        f'.TH KETTLESIDE 1 "" "kettleside {_text(version)}"',
        ".SH NAME",
        f"kettleside \\- {_text(parser.description or '').rstrip('.')}",
        ".SH SYNOPSIS",
        ".B kettleside",
        ".I COMMAND",
        ".RI [ ARGUMENTS ]",
        ".SH DESCRIPTION",
        "Each command tells its arguments with",
        ".BR \\-\\-help .",
        "The pages that kettleside serves have the whole manual.",
        ".SH COMMANDS",
    ]
    for name, command in subcommands(parser).items():
        lines += _command(f"kettleside {name}", command)
    lines += [".SH EXIT STATUS", "0 done, 1 failed, 2 wrong usage, 130 ended by Ctrl\\-C."]
    return "\n".join(lines)


def _command(name: str, parser: argparse.ArgumentParser) -> Iterator[str]:
    from monitor.cli.whole_parser import subcommands

    yield f".SS {_text(name)}"
    yield _text(parser.description or "")
    formatter = argparse.HelpFormatter(prog=name)
    for action in parser._actions:
        if action.help is argparse.SUPPRESS or isinstance(action, argparse._HelpAction | argparse._SubParsersAction):
            continue
        yield ".TP"
        yield f".B {_text(formatter._format_action_invocation(action))}"
        yield _text(formatter._expand_help(action) if action.help else "")
    for further, one in subcommands(parser).items():
        yield from _command(f"{name} {further}", one)


def _text(words: str) -> str:
    """Words as roff takes them: no hyphen that becomes a dash, no line that looks like a request.

    >>> _text(".5 --to C:\\\\x")
    '\\\\&.5 \\\\-\\\\-to C:\\\\ex'
    """
    escaped = " ".join(words.split()).replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{escaped}" if escaped.startswith((".", "'")) else escaped
