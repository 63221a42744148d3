"""Listening to whatever a broker or a serial port sends, and proposing the source URL that reads it.

``Listener`` is pure: it is fed with what is heard and asked for its findings. ``BrokerEar`` and ``PortsEar`` hear.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.listening.ears import BrokerEar, Ear, PortsEar, open_ear
    from monitor.listening.finding import FoundChannel, PlaceFinding
    from monitor.listening.heard import Heard, PayloadKind
    from monitor.listening.listener import Listener, Proposal, proposal
    from monitor.listening.words import finding_words, printable

__all__ = [
    "BrokerEar",
    "Ear",
    "FoundChannel",
    "Heard",
    "Listener",
    "PayloadKind",
    "PlaceFinding",
    "PortsEar",
    "Proposal",
    "finding_words",
    "open_ear",
    "printable",
    "proposal",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "ears": ("BrokerEar", "Ear", "PortsEar", "open_ear"),
            "finding": ("PlaceFinding", "FoundChannel"),
            "heard": ("Heard", "PayloadKind"),
            "listener": ("Listener", "Proposal", "proposal"),
            "words": ("finding_words", "printable"),
        },
    )
