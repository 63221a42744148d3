"""``kettleside manual``: the manual's passages that tell of some words."""

import argparse
import re

HELP = "The passages of the manual that tell of some words, the nearest first; without words, its pages."
MOST_SHOWN = 4
# Links as their words; comments are for whoever writes the pages.
_LINK, _COMMENT = re.compile(r"\[([^]]+)\]\([^)]+\)"), re.compile(r"<!--.*?-->\n", re.DOTALL)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="an alarm's name, a sentence of refusal, a command, any word"
    )


def run(args: argparse.Namespace) -> int:
    """Prints passages; 1 where none tells of the words. Raises PagesMissingError."""
    from monitor.cli.pages import installed_pages

    words = " ".join(args.words)
    found = installed_pages().manual(words)
    if not args.words:
        width = max(len(page.page) for page in found)
        print("\n".join(f"{page.page.ljust(width)}  {page.title}" for page in found))
        print("\nkettleside manual WORD ... prints the passages that tell of the words.")
        return 0
    if not found:
        print(f"The manual says nothing of “{words}”. kettleside manual lists its pages.")
        return 1
    for passage in found[:MOST_SHOWN]:
        place = passage.title if passage.heading == passage.title else f"{passage.title}: {passage.heading}"
        text = _LINK.sub(r"\1", _COMMENT.sub("", passage.text))
        print(f"{place}\n\n{text}\n")
    if len(found) > MOST_SHOWN:
        others = dict.fromkeys(passage.title for passage in found[MOST_SHOWN:])
        print(f"{len(found) - MOST_SHOWN} more in: {', '.join(others)}.")
    return 0
