"""The drawing: better is higher, time runs with the reading direction, nothing leaves the sheet."""

from __future__ import annotations

from typing import Any

import pytest

from companion.web.band import FLOOR, TOP, WIDTH, draw, table

HOURS = [f"2026-11-02T{hour:02}:00:00+00:00" for hour in range(24)]


def curve(**changes: Any) -> dict[str, Any]:
    rising = [hour / 23 for hour in range(24)]
    return {
        "from": HOURS[0],
        "to": HOURS[-1],
        "now": HOURS[12],
        "times": HOURS,
        "eyes": {
            "right": {"p05": [one - 0.3 for one in rising], "p50": rising, "p95": [one + 0.3 for one in rising]}
        },
        "target": 0.2,
        "nights": [{"from": HOURS[0], "to": HOURS[6], "eyes": [eye]} for eye in ("right", "left")],
        "checks": [
            {"at": HOURS[8], "eye": "right", "logmar": 0.1},
            {"at": HOURS[8], "eye": "left", "logmar": 0.9},
            {"at": "2026-11-01T08:00:00+00:00", "eye": "right", "logmar": 0.5},
        ],
        **changes,
    }


def points(text: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (one.split(",") for one in text.split())]


@pytest.mark.parametrize("right_to_left", [False, True])
def test_nothing_leaves_the_sheet_and_worse_is_lower(right_to_left: bool) -> None:
    drawn = draw(curve(), "right", right_to_left)
    line = points(drawn.middle)
    heights = [y for _, y in line]
    assert heights == sorted(heights), "sight that fades sinks"
    for x, y in [*line, *points(drawn.fan), *drawn.checks]:
        assert 0 <= x <= WIDTH and TOP <= y <= FLOOR


def test_time_runs_with_the_reading_direction() -> None:
    ltr, rtl = draw(curve(), "right", False), draw(curve(), "right", True)
    assert points(ltr.middle)[0][0] == 0 and points(rtl.middle)[0][0] == WIDTH
    assert [WIDTH - x for x, _ in points(ltr.middle)] == pytest.approx([x for x, _ in points(rtl.middle)])
    assert [y for _, y in points(ltr.middle)] == [y for _, y in points(rtl.middle)]
    assert rtl.now_x == pytest.approx(WIDTH - ltr.now_x)
    (left, width), (mirrored, same_width) = ltr.nights[0], rtl.nights[0]
    assert (mirrored, same_width) == (pytest.approx(WIDTH - left - width), width)
    assert (ltr.start_x, rtl.start_x) == (0, WIDTH)


def test_a_drawing_shows_one_eye_and_only_what_is_in_its_time() -> None:
    drawn = draw(curve(), "right", False)
    assert len(drawn.nights) == 1 and len(drawn.checks) == 1


def test_the_table_says_the_same_at_a_few_hours() -> None:
    rows = table(curve())
    assert [row["at"] for row in rows] == [HOURS[8], HOURS[13], HOURS[18], HOURS[22]]
    assert rows[0]["eyes"]["right"]["p50"] == pytest.approx(8 / 23)
