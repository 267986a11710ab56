"""The snapshot of each eye's fit: kept so that the next one starts where this one found the eye.

A cache of the science alone: without it, or with one of another model, the next fit just takes longer.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.eyes import Eye
from companion.exchange.about import MODEL
from companion.exchange.wearer_course import WearerCourse
from companion.fade.sampling import Place
from companion.store.models import FitRow, Wearer


def places_of(session: Session, wearer: Wearer) -> Mapping[Eye, Place]:
    """Return where the last fits of this model found each eye."""
    rows = session.scalars(
        select(FitRow).where(
            FitRow.practice_id == wearer.practice_id, FitRow.wearer_id == wearer.id, FitRow.model == MODEL
        )
    )
    return {Eye(row.eye): Place(np.array(row.mean), np.array(row.covariance)) for row in rows}


def keep_fits(session: Session, wearer: Wearer, followed: WearerCourse, now: datetime) -> None:
    """Keep the fits of each eye, in the caller's transaction. ``wearer`` as read for the fit."""
    for eye, course in followed.eyes.items():
        fit = course.fit
        if not (np.isfinite(fit.place.mean).all() and np.isfinite(fit.place.covariance).all()):
            continue  # a place that is nowhere helps nobody
        session.merge(
            FitRow(
                practice_id=wearer.practice_id,
                wearer_id=wearer.id,
                eye=eye.value,
                model=MODEL,
                cut_off=followed.as_of,
                seq=wearer.last_seq,
                mean=fit.place.mean.tolist(),
                covariance=fit.place.covariance.tolist(),
                effective=fit.effective,
                learned=fit.learned,
                fell_back=fit.fell_back.value if fit.fell_back else None,
                made_at=now,
            )
        )
