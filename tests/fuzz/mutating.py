"""Inputs that are nearly valid: valid ones, mutated in a few places by a seeded random generator."""

import json
import random
from collections.abc import Sequence

_EDGES = (0, 1, 0x09, 0x0A, 0x0D, 0x22, 0x27, 0x2A, 0x2C, 0x5B, 0x5D, 0x7B, 0x7D, 0x7F, 0x80, 0xC3, 0xED, 0xFE, 0xFF)

_NUMBERS: tuple[object, ...] = (
    *(0, 1, -1, 1.5, -0.0, 94.25, 2**28 - 1, 2**28, 2**53, 2**53 + 2, 2**63, 2**64, -(2**63), 10**400),
    *(1e-320, 1e300, -1e308, 1.7e308, 1773480000.0, 1e11, 99999999999.9),
)
_TEXTS: tuple[object, ...] = (
    "",
    "paste",
    "seq",
    "Cel",
    "count",
    "a b",
    "\ud800",
    "x\0y",
    "é",
    "n" * 300,
    "\n",
    "wall/1:",
)
_OTHERS: tuple[object, ...] = (None, True, False, [], {}, [[]], [{}], {"v": 1})
_KEYS = ("n", "v", "u", "t", "bn", "bt", "bv", "bu", "vs", "vb", "vd", "s", "bs", "bver", "ut", "x", "y_", "")


def mutated(sound: bytes, tokens: Sequence[bytes], chance: random.Random) -> bytes:
    """These bytes with up to six things done to them: a bit turned, a stretch cut, doubled or replaced, a word put in."""
    data = bytearray(sound)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        at = chance.randrange(len(data) + 1)
        to = min(len(data), at + chance.choice((1, 1, 2, 4, 16, 64)))
        action = chance.randrange(7)
        if action == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif action == 1 and at < len(data):
            data[at] = chance.choice(_EDGES)
        elif action == 2:
            del data[at:to]
        elif action == 3:
            data[at:at] = data[at:to] * chance.randint(1, 3)
        elif action == 4:
            data[at:to] = chance.randbytes(to - at)
        elif action == 5:
            data[at:at] = chance.choice(tokens)
        elif chance.random() < 0.2:
            del data[at:]
    return bytes(data)


def senml(chance: random.Random) -> bytes:
    """JSON in the manner of SenML, right or wrong in every field."""
    return json.dumps([_record(chance) for _ in range(chance.randint(0, 4))]).encode()


def _record(chance: random.Random) -> object:
    if chance.random() < 0.03:
        return chance.choice((*_OTHERS, *_NUMBERS, *_TEXTS))
    record: dict[str, object] = {}
    if chance.random() < 0.8:
        record["n"] = chance.choice(("paste", "seq", "wall", "ph"))
    if chance.random() < 0.5:
        record["u"] = chance.choice(("Cel", "count", "V"))
    if chance.random() < 0.8:
        record["v"] = chance.choice(_NUMBERS)
    for _ in range(chance.choice((0, 0, 0, 1, 1, 2))):
        kind = chance.random()
        of = _NUMBERS if kind < 0.5 else _TEXTS if kind < 0.85 else _OTHERS
        record[chance.choice(_KEYS)] = chance.choice(of)
    return record
