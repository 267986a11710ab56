"""What pages say about a forecast itself: what it was made from, how it has fared, what it does not explain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from companion.usecases.forecasting import Foreseen

LINE_LOGMAR = 0.1
"""One line of a chart."""


def made_plain(foreseen: Foreseen) -> dict[str, Any] | None:
    """Return the forecast's age, warnings, fitness and sources over both eyes; None: there is nothing to say."""
    forecast, eyes = foreseen.forecast, (foreseen.about or {}).get("eyes", {})
    if not forecast["eyes"] and not forecast["warnings"]:
        return None
    return {
        "as_of": forecast["as_of"],
        "warnings": forecast["warnings"],
        "eyes": len(forecast["eyes"]),
        "record": {part: sum(one["record"][part] for one in eyes.values()) for part in ("inside", "of")},
        "used": {part: sum(one[part] for one in eyes.values()) for part in ("checks", "refractions")},
        "fell_back": {eye: one["fell_back"] for eye, one in eyes.items() if one["fell_back"]},
    }


def surprises(about: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """Return the eyes that see less than the nights explain, with how far."""
    return [
        {"eye": eye, **one["surprise"], "lines": max(1, round(one["surprise"]["worse_logmar"] / LINE_LOGMAR))}
        for eye, one in ((about or {}).get("eyes") or {}).items()
        if one["surprise"]
    ]
