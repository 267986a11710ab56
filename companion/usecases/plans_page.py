"""What other plans would end in, and the way back to the baseline: worked out when the practice opens the page.

Information alone. Nothing here changes a plan; that is signed on the form for it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.moments import zone
from companion.exchange.plans_document import plans, way_back
from companion.exchange.wearer_course import WearerCourse, follow_wearer
from companion.store.queries.prescriptions import clearance_of
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.fits import places_of
from companion.usecases.forecasting import clearance_from
from companion.usecases.raising import open_holds
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.story import Story, load_story
from companion.usecases.wearer_record import record_of


def plans_page(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """The steady states of all plans, and the days until each eye is back. None without a refraction."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_RECORD)
    story = load_story(session, wearer, now)
    followed = _followed(session, story, now)
    return {
        "wearer": wearer_plain(wearer, now),
        "now": iso(now, zone(wearer.zone)),
        "plans": followed and plans(followed),
        "way_back": followed and way_back(followed),
        "may_sign": may(roles_towards(session, actor, wearer), Action.PRESCRIBE),
    }


def _followed(session: Session, story: Story, now: datetime) -> WearerCourse | None:
    """Follow the wearer up to now, from where the last stored fit found the eyes."""
    wearer = story.wearer
    clearance = clearance_from(clearance_of(session, wearer))
    record = record_of(story, open_holds(session, wearer, now), clearance, now)
    return None if record is None else follow_wearer(record, now, places_of(session, wearer))
