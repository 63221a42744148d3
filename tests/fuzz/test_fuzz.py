"""Ten thousand hostile inputs, the first of the million that ``python -m tests.bench.hostile_input`` feeds."""

from collections.abc import Iterator

import pytest

from tests.fuzz.targets import Targets

# Cheap ones carry most; what each costs is printed by the bench.
SAMPLE = {
    "serial lines": 4000,
    "SenML packs": 4000,
    "batch sheets": 1500,
    "CSV tables": 300,
    "data packages": 300,
    "recordings": 200,
}


@pytest.fixture(scope="module")
def targets(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Targets]:
    made = Targets(tmp_path_factory.mktemp("fuzz"))
    yield made
    made.close()


@pytest.mark.parametrize("name", SAMPLE)
@pytest.mark.long
def test_hostile_input_gives_a_value_or_the_documented_error(targets: Targets, name: str) -> None:
    taken = 0
    for number in range(SAMPLE[name]):
        try:
            taken += targets.run(name, number)
        except Exception as error:
            error.add_note(f"{name}, input {number}")
            raise
    # Inputs of which all or none are taken would try one half of the reader only.
    assert SAMPLE[name] * 0.02 < taken < SAMPLE[name] * 0.9


def test_every_target_is_sampled(targets: Targets) -> None:
    assert targets.all.keys() == SAMPLE.keys()
