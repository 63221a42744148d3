"""A program on this machine that is run for each notice, such as one that rings a bell."""

import subprocess

from monitor.messengers import Letter, NotCarriedError
from monitor.telling.settings import Command

LONGEST_S = 30.0


class CommandMessenger:
    """Runs the program with the notice on its standard input."""

    def __init__(self, command: Command) -> None:
        self.name = command.name
        self._run = command.run

    def carry(self, letter: Letter) -> None:
        """Runs it to its end. Raises NotCarriedError."""
        try:
            done = subprocess.run(
                self._run,
                input=f"{letter.title}\n{letter.notice.words}\n".encode(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=LONGEST_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise NotCarriedError(f"its program took longer than {LONGEST_S:.0f} s and was ended") from None
        except OSError as error:
            raise NotCarriedError(f"its program cannot be run ({error.strerror or 'unknown'})") from None
        if done.returncode:
            raise NotCarriedError(f"its program ended with status {done.returncode}")
