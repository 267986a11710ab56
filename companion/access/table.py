"""The one table of permissions.

A person has family roles towards a wearer and staff roles at a practice. A use case collects the roles that a
person has towards the thing in question and asks ``may``. No role at all: the thing does not exist for them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum


class Role(StrEnum):
    GUARDIAN = "guardian"
    WEARER = "wearer"
    ASSISTANT = "assistant"
    PRACTITIONER = "practitioner"
    MANAGER = "manager"


FAMILY_ROLES = frozenset({Role.GUARDIAN, Role.WEARER})
STAFF_ROLES = frozenset({Role.ASSISTANT, Role.PRACTITIONER, Role.MANAGER})


class Action(StrEnum):
    SEE_OWN_PAGES = "see_own_pages"
    """Tonight, the diary and the reports, as the family sees them."""
    WRITE_DIARY = "write_diary"
    REPORT_SYMPTOMS = "report_symptoms"
    SEE_DESK = "see_desk"
    SEE_RECORD = "see_record"
    """One wearer's page as the practice sees it."""
    TAKE_ALERT = "take_alert"
    RECORD_CONTACT = "record_contact"
    CLOSE_MILD_ALERT = "close_mild_alert"
    CLOSE_SERIOUS_ALERT = "close_serious_alert"
    """An alert of level 3 or more."""
    LIFT_HOLD = "lift_hold"
    PRESCRIBE = "prescribe"
    """Sign plans, clearances, refractions and lenses."""
    ENROL = "enrol"
    """Add a wearer, invite the family, book a visit."""
    MANAGE_STAFF = "manage_staff"


_FAMILY = {Action.SEE_OWN_PAGES, Action.WRITE_DIARY, Action.REPORT_SYMPTOMS}
_ASSISTANT = {
    Action.SEE_DESK,
    Action.SEE_RECORD,
    Action.WRITE_DIARY,
    Action.TAKE_ALERT,
    Action.RECORD_CONTACT,
    Action.CLOSE_MILD_ALERT,
    Action.ENROL,
}

GRANTS: Mapping[Role, frozenset[Action]] = {
    Role.GUARDIAN: frozenset(_FAMILY),
    Role.WEARER: frozenset(_FAMILY),
    Role.ASSISTANT: frozenset(_ASSISTANT),
    Role.PRACTITIONER: frozenset(
        _ASSISTANT | {Action.CLOSE_SERIOUS_ALERT, Action.LIFT_HOLD, Action.PRESCRIBE}
    ),
    Role.MANAGER: frozenset(
        {Action.SEE_DESK, Action.SEE_RECORD, Action.TAKE_ALERT, Action.RECORD_CONTACT, Action.ENROL}
        | {Action.MANAGE_STAFF}
    ),
}


def may(roles: Iterable[Role], action: Action) -> bool:
    """Say whether any of ``roles`` grants ``action``."""
    return any(action in GRANTS[role] for role in roles)
