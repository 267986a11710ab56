"""Each value with its source: journal, standard or geometry."""

import math

import pytest

from companion.common import units
from companion.common.units import PowerVector


@pytest.mark.parametrize(
    ("logmar", "decimal", "metres", "feet"),
    [
        (0.30, 0.501, 11.97, 39.9),  # log scale, computed
        (0.00, 1.0, 6.0, 20.0),  # ISO 8596: acuity 1.0 resolves one minute of arc
        (1.00, 0.1, 60.0, 200.0),  # log scale
        (-0.10, 1.259, 4.766, 15.89),  # one grade, 10**0.1
    ],
)
def test_acuity_in_every_notation(logmar: float, decimal: float, metres: float, feet: float) -> None:
    assert units.decimal_from_logmar(logmar) == pytest.approx(decimal, rel=1e-3)
    assert units.snellen_from_logmar(logmar) == (6.0, pytest.approx(metres, rel=1e-3))
    assert units.snellen_from_logmar(logmar, units.FAR_FEET)[1] == pytest.approx(feet, rel=1e-3)
    assert units.logmar_from_decimal(units.decimal_from_logmar(logmar)) == pytest.approx(logmar)


@pytest.mark.parametrize(
    ("fraction", "logmar"), [((6, 12), 0.301), ((6, 9), 0.176), ((20, 40), 0.301), ((6, 6), 0.0)]
)
def test_snellen_fractions_read(fraction: tuple[float, float], logmar: float) -> None:
    assert units.logmar_from_snellen(*fraction) == pytest.approx(logmar, abs=5e-4)


def test_five_grade_4_9_is_logmar_0_1_and_decimal_0_794() -> None:
    assert units.five_grade_from_logmar(0.1) == pytest.approx(4.9)
    assert units.decimal_from_logmar(0.1) == pytest.approx(0.794, abs=5e-4)


def test_spherical_equivalent() -> None:
    assert units.spherical_equivalent_d(-3.0, -1.5) == -3.75
    assert units.spherical_equivalent_d(-3.0) == -3.0


@pytest.mark.parametrize("axis", [0, 30, 45, 90, 135, 180])
def test_power_vector_of_minus_3_minus_1_50_is_3_824_long_at_any_axis(axis: float) -> None:
    """Worked example of the power vector; the identity sqrt(S^2 + SC + C^2/2) is arithmetic."""
    vector = PowerVector.of(-3.0, -1.5, axis)
    assert vector.length_d == pytest.approx(3.824, abs=5e-4)
    assert vector.length_d == pytest.approx(math.sqrt(9 + 4.5 + 1.125))


def test_both_cylinder_forms_of_one_lens_are_one_power_vector() -> None:
    minus, plus = PowerVector.of(-1.0, -2.0, 180), PowerVector.of(-3.0, 2.0, 90)
    assert (minus.m_d, minus.j0_d, minus.j45_d) == pytest.approx((plus.m_d, plus.j0_d, plus.j45_d))


def test_2_d_of_astigmatism_about_zero_blurs_to_0_20_to_0_40() -> None:
    """Sci Rep 2021;11:6958 gives 0.20, an induced-blur study of 2013 0.40; MAR = 1 + b^2 (Optom Vis Sci 2015) lies
    between."""
    b = PowerVector.of(1.0, -2.0, 90).length_d
    assert b == pytest.approx(1.0)
    assert 0.20 <= math.log10(1 + b**2) <= 0.40
