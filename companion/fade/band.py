"""Draws summed up: the band in which the truth lies, and how likely a target is met."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from companion.fade.parameters import Array


class Band(NamedTuple):
    """5th, 50th and 95th percentile, each (n_times,)."""

    p05: Array
    p50: Array
    p95: Array


def band(values: Array) -> Band:
    """Return the percentiles over the draws of (n_times, n)."""
    return Band(*np.percentile(values, (5, 50, 95), axis=-1))


def chance_at_or_better(acuity_logmar: Array, target_logmar: float) -> Array:
    """Return the share of draws that see at least as well as the target, (n_times,)."""
    met: Array = np.mean(acuity_logmar <= target_logmar, axis=-1)
    return met
