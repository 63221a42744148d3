"""Free alkali of a paste sample, against the formula of the standard and against its own sources of error."""

import math

import periodictable
import pytest

from monitor.chemistry import expected_acid_ml, titrated_koh_share


def test_the_share_is_what_the_standard_reports() -> None:
    """ISO 456: free caustic alkali, % KOH = 56.1 V c / (10 m); the molar mass from periodictable instead of 56.1."""
    share, _ = titrated_koh_share(2.30, 0.1000, 10.00)
    assert 100.0 * share == pytest.approx(periodictable.formula("KOH").mass * 2.30 * 0.1 / (10.0 * 10.0), rel=1e-5)


def test_a_sample_takes_the_acid_that_its_share_says() -> None:
    need_per_gram, excess, converted = 0.1, 0.03, 0.98
    acid_ml = expected_acid_ml(converted, excess, need_per_gram, acid_mol_l=0.2, sample_g=1.3)
    share, _ = titrated_koh_share(acid_ml, 0.2, 1.3)
    assert share == pytest.approx((1.0 + excess - converted) * need_per_gram)


def test_two_samples_tell_the_progress_between_them_whatever_the_excess() -> None:
    def share(converted: float, excess: float) -> float:
        return titrated_koh_share(expected_acid_ml(converted, excess, 0.1), 0.1, 1.0)[0]

    for excess in (0.0, 0.03, 0.08):
        assert (share(0.90, excess) - share(0.97, excess)) / 0.1 == pytest.approx(0.07)


def test_short_alkali_ends_with_no_acid_to_run_in() -> None:
    assert expected_acid_ml(0.97, -0.05, 0.1) == 0.0


@pytest.mark.parametrize(
    ("acid_ml", "scale_g", "expected"),
    [
        # The burette alone: 0.05 mL of 0.1 mol/L on 1 g.
        (0.0, 0.001, 0.05 * 0.1 * 0.0561056),
        # End point 2 % and a step of 0.1 g on 1 g, uniform: 0.1 / sqrt(12) = 2.9 %.
        (10.0, 0.1, 0.1 * 0.0561056 * math.sqrt(0.05**2 + (10 * 0.02) ** 2 + (10 * 0.1) ** 2 / 12)),
    ],
)
def test_the_uncertainty_is_the_root_of_its_parts(acid_ml: float, scale_g: float, expected: float) -> None:
    assert titrated_koh_share(acid_ml, 0.1, 1.0, scale_g)[1] == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((-0.1, 0.1, 1.0), "acid_ml is -0.1 mL; it must be from 0 to 100 mL"),
        ((1.0, 0.0, 1.0), "acid_mol_l is 0 mol/L; it must be from 0.001 to 2 mol/L"),
        ((1.0, 0.1, math.nan), "sample_g is nan; it must be a number from 0.1 to 200 g"),
        ((1.0, 0.1, 1.0, 0.0), "scale_g is 0 g; it must be from 0.0001 to 100 g"),
    ],
)
def test_what_cannot_be_is_refused(arguments: tuple[float, ...], words: str) -> None:
    with pytest.raises(ValueError, match="must be") as caught:
        titrated_koh_share(*arguments)
    assert str(caught.value) == words
