"""``kettleside stream``: packs, events and questions in, answers out, one line each."""

import argparse
from pathlib import Path

HELP = "Packs, events and questions on standard input, outlooks on standard output, clocked by the data alone."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("--batch", type=Path, required=True, metavar="FILE", help="the batch sheet (TOML)")
    parser.add_argument(
        "--recordings", type=Path, required=True, metavar="DIR", help="earlier cooks; this one joins them"
    )


def run(args: argparse.Namespace) -> int:
    """Answers each line until standard input ends; a line that cannot be read is reported and skipped."""
    import json
    import sys

    from monitor.cli.log import read_batch_file
    from monitor.session import LineError, StreamSession, kitchen_model

    sheet = read_batch_file(args.batch) or ""
    stream = StreamSession(sheet, args.recordings, lambda: kitchen_model(args.recordings).prior())
    try:
        for number, line in enumerate(sys.stdin.buffer, 1):
            try:
                answer = stream.take(line.decode())
            except LineError as error:
                print(f"line {number}: {error}", file=sys.stderr)
            except UnicodeDecodeError:
                print(f"line {number}: It is not UTF-8.", file=sys.stderr)
            else:
                if answer is not None:
                    sys.stdout.write(json.dumps(answer, separators=(",", ":"), allow_nan=False) + "\n")
                    sys.stdout.flush()
    finally:
        stream.close()
    return 0
