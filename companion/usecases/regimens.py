"""The care system and schedule of a practice: what it is now, and a practitioner's signature under a new one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.moments import zone
from companion.regimen.care import SYSTEMS, Regimen, load_care, regimen
from companion.store.models import CareRegimen, Person
from companion.store.queries.regimens import regimen_of
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.showing import iso


def current_regimen(session: Session, practice_id: str) -> Regimen:
    """Return what the practice's families follow; without a signature, what all systems share."""
    row = regimen_of(session, practice_id)
    return regimen(row.system, row.numbers) if row else regimen(None, {})


def regimen_page(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """What is signed now, and what each system would let the practice set."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    row = regimen_of(session, practice.id)
    care = load_care()
    return {
        "system": row.system if row else None,
        "signed_at": iso(row.signed_at, zone(practice.zone)) if row else None,
        "signed_by": session.get_one(Person, row.signed_by).name if row else None,
        "may_sign": may(actor.roles, Action.PRESCRIBE),
        "systems": {
            system: [
                {
                    "id": id_,
                    "low": bounds.low,
                    "high": bounds.high,
                    "may_be_left_out": bounds.may_be_left_out,
                    "now": _number(row, system, id_, bounds.usual),
                }
                for id_, bounds in care.bounds[system].items()
            ]
            for system in SYSTEMS
        },
    }


def sign_regimen(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> None:
    """Sign a care system and its numbers for all families of the practice."""
    practice = practice_for(session, actor, Action.PRESCRIBE)
    read = Reading(form)
    system = read.choice("system", SYSTEMS)
    numbers = {
        id_: read.whole(id_, bounds.low, bounds.high, optional=bounds.may_be_left_out)
        for id_, bounds in load_care().bounds.get(system, {}).items()
    }
    read.finish()
    row = CareRegimen(
        practice_id=practice.id, system=system, numbers=numbers, signed_by=actor.person_id, signed_at=now
    )
    session.add(row)
    session.flush()
    note(session, practice.id, actor.person_id, "sign", "care_regimen", row.id, now)
    session.commit()


def _number(row: CareRegimen | None, system: str, id_: str, usual: int) -> int | None:
    """What the form begins with: the signed number of the signed system, else the usual one."""
    if row is None or row.system != system:
        return usual
    return regimen(system, row.numbers).numbers[id_]
