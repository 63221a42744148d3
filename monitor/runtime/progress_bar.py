"""A progress bar on a terminal, for what takes longer than two seconds."""

import sys
from typing import Never


class ProgressBar:
    """Shows the progress of a piece of work; draws nothing where standard error is no terminal.

    It is a context manager, and is called with (done, total).
    """

    def __init__(self, what: str) -> None:
        # Loaded here, because every process loads this package and few show progress.
        from tqdm import tqdm

        self._bar: tqdm[Never] = tqdm(
            desc=what, delay=2.0, leave=False, disable=not sys.stderr.isatty(), file=sys.stderr
        )

    def __enter__(self) -> "ProgressBar":
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.close()

    def __call__(self, done: int, total: int) -> None:
        self._bar.total = total
        self._bar.update(done - self._bar.n)
