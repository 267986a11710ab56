"""The first weeks: what new wearers see after the first night, through the first week, at a month.

The range is over wearers of the same age and prescription, whatever this one's diary says: an expectation for
somebody new, never a promise. Owns the document's shape; needs no fit.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from companion.exchange.nights_ahead import outlook_json, target_json, target_of
from companion.exchange.record import WearerRecord
from companion.fade.onset import onset
from companion.fade.population import Treatment, draw
from companion.regimen.nights import usual_hours

_HOUR = timedelta(hours=1)
_DAY_H, _NOON_H = 24.0, 12.0


def first_weeks(record: WearerRecord, as_of: datetime) -> dict[str, Any]:
    """Return for each eye the morning and the evening (the target's hour) after some nights in a row."""
    age_years = as_of.astimezone(record.zone).year - record.birth_year
    until = record.target.until_local
    told = {}
    for eye, one in record.eyes.items():
        usual = usual_hours(one.wear, as_of, record.zone)
        hours_worn = (usual.removal - usual.insertion) / _HOUR
        evening_after_h = (until.hour + until.minute / 60 - (_NOON_H + usual.removal / _HOUR)) % _DAY_H
        draws = draw(Treatment(one.baseline_d, one.aim_d, age_years, one.best_acuity_logmar))
        told[eye.value] = [
            {"night": day.night, "morning": outlook_json(day.morning), "evening": outlook_json(day.evening)}
            for day in onset(draws, target_of(record), hours_worn, evening_after_h)
        ]
    return {"target": target_json(record), "eyes": told}
