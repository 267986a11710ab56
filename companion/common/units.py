"""Acuity in its several notations, and a spectacle prescription as a sphere and a cross.

Acuity here is logMAR: log10 of the smallest gap seen, in minutes of arc. Prescriptions are minus-cylinder or
plus-cylinder, axis in degrees; both forms of one lens give the same power vector.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

FAR_M = 6.0
FAR_FEET = 20.0


def logmar_from_decimal(decimal: float) -> float:
    """0.5 is 0.30."""
    return -math.log10(decimal)


def decimal_from_logmar(logmar: float) -> float:
    return float(10.0**-logmar)


def snellen_from_logmar(logmar: float, far: float = FAR_M) -> tuple[float, float]:
    """Return the two halves of the fraction at a test distance: 0.30 is 6/11.97, or 20/39.9 in feet."""
    return far, far / decimal_from_logmar(logmar)


def logmar_from_snellen(distance: float, denominator: float) -> float:
    """6/12 is 0.30, and so is 20/40."""
    return logmar_from_decimal(distance / denominator)


def five_grade_from_logmar(logmar: float) -> float:
    """The five-grade notation: 5 minus logMAR."""
    return 5.0 - logmar


def spherical_equivalent_d(sphere_d: float, cylinder_d: float = 0.0) -> float:
    return sphere_d + cylinder_d / 2


@dataclass(frozen=True)
class PowerVector:
    """A prescription as mean sphere and two crossed cylinders [D]."""

    m_d: float
    j0_d: float
    j45_d: float

    @classmethod
    def of(cls, sphere_d: float, cylinder_d: float, axis_deg: float) -> PowerVector:
        twice = 2 * math.radians(axis_deg)
        half = cylinder_d / 2
        return cls(sphere_d + half, -half * math.cos(twice), -half * math.sin(twice))

    @property
    def length_d(self) -> float:
        """How much it blurs, whatever its axis."""
        return math.hypot(self.m_d, self.j0_d, self.j45_d)
