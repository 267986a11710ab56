"""The forecast document of one wearer, built once for files, screens and phones."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from companion.exchange.record import WearerRecord


def forecast(
    record: WearerRecord,
    as_of: datetime | None = None,
    at: Sequence[datetime] = (),
    nights: Sequence[bool] = (),
    *,
    practice_stop: bool = False,
    visit_overdue: bool = False,
) -> dict[str, Any]:
    """Return the forecast JSON of the contract. ``nights``: for each coming night from tonight, is it worn?"""
    raise NotImplementedError
