"""The built-in rig as a source."""

import pytest

from monitor.protocol import BadLine, Pack
from monitor.runtime.clock import JumpClock
from monitor.sources import Info, SourceError, SourceItem, open_source, parse_source_url


class JumpsInCookTime(JumpClock):
    """A cook that jumps on a machine that does not, so that no line takes long to arrive."""

    def real_s(self) -> float:
        return 0.0


def test_the_built_in_rig_is_read_like_a_serial_source() -> None:
    clock = JumpsInCookTime()
    source = open_source(parse_source_url("rig:?seed=3"), clock)
    heard: list[SourceItem] = []
    try:
        # The person's events come by another path than the packs, and sooner.
        while Info("The virtual person: lye in.") not in heard or not any(isinstance(item, Pack) for item in heard):
            heard += source.poll(5.0)
            assert len(heard) < 20_000
    finally:
        source.close()
    packs = [item for item in heard if isinstance(item, Pack)]
    assert {record.channel for pack in packs for record in pack.records} == {"paste", "wall", "room", "ph"}
    assert all(record.time is None for pack in packs for record in pack.records)
    assert not [item for item in heard if isinstance(item, BadLine)]
    seqs = [pack.seq for pack in packs if pack.seq is not None]
    assert seqs == list(range(seqs[0], seqs[0] + len(packs)))


@pytest.mark.parametrize("url", ["rig://host", "rig:/path", "rig:?seed=many", "rig:?sed=1"])
def test_wrong_addresses_are_reported_in_one_sentence(url: str) -> None:
    with pytest.raises(SourceError, match="is not one: "):
        open_source(parse_source_url(url), JumpClock())
