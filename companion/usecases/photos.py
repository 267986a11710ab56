"""Photos of an eye. They follow a report that is stored and judged, so none can delay it or change its level.

Whoever may see the report may see them: its author, whoever sees the diary, a guardian if it is serious, and the
practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.eyes import EYES
from companion.common.ids import is_id
from companion.exchange.picture import Picture
from companion.store.models import Photo, Wearer
from companion.store.queries.photos import photos_of_report
from companion.usecases import audit
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.forms import Reading
from companion.usecases.reports import seen_report
from companion.usecases.showing import wearer_plain

MOST = 6
"""Of one report: enough for both eyes from three sides."""


def asked(session: Session, actor: Actor, wearer_id: str, report_id: str, now: datetime) -> dict[str, Any]:
    """What the page needs on which a photo is added."""
    wearer = wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS)
    report, _ = seen_report(session, actor, wearer, report_id)
    kept = photos_of_report(session, wearer.practice_id, report.entry_id)
    eyes = [eye.value for eye in EYES if (report.right_level, report.left_level)[EYES.index(eye)] == report.level]
    return {
        "wearer": wearer_plain(wearer, now),
        "report": {"id": report.entry_id},
        "eye": eyes[0] if len(eyes) == 1 else "",
        "room": MOST - len(kept),
        "kept": [one.id for one in kept],
    }


def check_room(view: Mapping[str, Any], form: Mapping[str, str]) -> None:
    """Raises InvalidInput where the report has all the photos it may have: no further file is read for nothing."""
    if view["room"] <= 0 and form.get("id") not in view["kept"]:
        raise InvalidInput(Problem("photos_enough", "photo", {"most": MOST}))


def add(
    session: Session,
    actor: Actor,
    wearer_id: str,
    report_id: str,
    form: Mapping[str, str],
    picture: Picture,
    now: datetime,
) -> None:
    """Keep a photo with a report. The same one sent twice is one."""
    wearer = wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS)
    report, _ = seen_report(session, actor, wearer, report_id)
    read = Reading(form)
    eye = read.choice("eye", [one.value for one in EYES])
    read.finish()
    id_ = form.get("id", "")
    if not is_id(id_):
        raise InvalidInput(Problem("id_conflict", "id"))
    kept = photos_of_report(session, wearer.practice_id, report.entry_id)
    if any(one.id == id_ for one in kept):
        return
    if len(kept) >= MOST:
        raise InvalidInput(Problem("photos_enough", "photo", {"most": MOST}))
    if session.get(Photo, id_) is not None:
        raise InvalidInput(Problem("id_conflict", "id"))
    session.add(
        Photo(
            id=id_,
            practice_id=wearer.practice_id,
            wearer_id=wearer.id,
            entry_id=report.entry_id,
            author_id=actor.person_id,
            eye=eye,
            received_at=now,
            width=picture.width,
            height=picture.height,
            jpeg=picture.jpeg,
        )
    )
    session.flush()
    audit.note(session, wearer.practice_id, actor.person_id, "add", "photo", id_, now)
    session.commit()


def photo(session: Session, actor: Actor, wearer_id: str, photo_id: str) -> bytes:
    """One photo, as a JPEG."""
    wearer = _wearer_to_look_at(session, actor, wearer_id)
    row = session.get(Photo, photo_id) if is_id(photo_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("photo")
    if not may(roles_towards(session, actor, wearer), Action.SEE_RECORD):
        seen_report(session, actor, wearer, row.entry_id)
    return row.jpeg


def _wearer_to_look_at(session: Session, actor: Actor, wearer_id: str) -> Wearer:
    """Load the wearer for staff, who see the record, or for the family."""
    try:
        return wearer_for(session, actor, wearer_id, Action.SEE_RECORD)
    except NotAllowed:
        return wearer_for(session, actor, wearer_id, Action.SEE_TONIGHT)
