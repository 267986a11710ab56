"""The simulators are fair: each median eye, and each form of sight, keeps to what was published.

Sources and status as in test_published_course.py, which holds the model to the same rows.
"""

import numpy as np
import pytest
from simulated_eyes import FORMS, NIGHT_H, Course, Night, Sight, follow
from simulated_people import KINDS, MIDDLE_OWN, median_mechanism

SIZES = (1.5, 2.0, 3.0, 4.0, 5.0)


def nightly(kind: str, count: int, size_d: float = 3.5) -> Course:
    nights = [Night(24.0 * n, 24.0 * n + NIGHT_H) for n in range(count)]
    return follow(median_mechanism(kind, size_d), nights)


def after(course: Course, *hours: float) -> list[float]:
    """Return the shares so many hours after the last removal."""
    return [float(one) for one in course.at(course.removed_h[-1] + np.array(hours))[0]]


@pytest.mark.parametrize("kind", KINDS)
def test_the_median_eye_keeps_to_the_published_course(kind: str) -> None:
    mornings = {count: after(nightly(kind, count), 0)[0] for count in (1, 4, 7, 10, 30)}
    first = after(nightly(kind, 1), 0, 14)
    settled = nightly(kind, 40)
    day, three_days, week, fortnight, month = after(settled, 14, 72, 168, 336, 720)
    on_the_first_day = 1 - first[1] / first[0]
    assert 0.55 <= mornings[1] <= 0.75
    assert mornings[4] >= 0.92
    assert mornings[7] >= 0.97
    assert abs(mornings[30] - mornings[10]) < 0.02
    assert 0.15 <= on_the_first_day <= 0.35
    assert 0.05 <= 1 - day <= min(0.25, on_the_first_day + 1e-9)
    assert 0.05 <= three_days <= 0.55
    assert 0.0 <= week <= 0.25
    assert fortnight <= 0.06
    assert month <= 0.02


@pytest.mark.parametrize("kind", KINDS)
def test_larger_treatments_fade_sooner(kind: str) -> None:
    kept = [after(nightly(kind, 40, size), 48)[0] for size in SIZES]
    assert kept == sorted(kept, reverse=True)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("baseline_d", "hours", "low", "high"), [(-3.0, 14, -0.6, 0.2), (-3.0, 38, -1.4, -0.5), (-1.0, 38, -0.4, 0.1)]
)
def test_residual_of_a_settled_eye(kind: str, baseline_d: float, hours: float, low: float, high: float) -> None:
    size_d = 0.5 - baseline_d
    assert low <= baseline_d + size_d * after(nightly(kind, 40, size_d), hours)[0] <= high


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("defocus_d", "low", "high"), [(0.5, 0.10, 0.28), (1.0, 0.30, 0.53), (2.0, 0.60, 0.90), (3.0, 0.77, 1.10)]
)
def test_the_median_sight_keeps_to_the_published_tables(
    form: str, defocus_d: float, low: float, high: float
) -> None:
    sight = Sight(form, 0.0, MIDDLE_OWN[form], 6.0)
    lost = sight.logmar(sight.blur_d(np.array([0.75, 0.0, -defocus_d])))
    assert lost[0] == lost[1] == 0.0  # a little plus blurs no young eye
    assert low - 0.005 <= lost[2] <= high + 0.005
