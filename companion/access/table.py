"""The one table of permissions.

A person has family roles towards a wearer and staff roles at a practice. A use case collects the roles that a
person has towards the thing in question and asks ``may``. No role at all: the thing does not exist for them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum


class Role(StrEnum):
    GUARDIAN = "guardian"
    WATCHING = "watching"
    """A guardian after the hand-over: the young wearer keeps the diary, the adult is still told of trouble."""
    WEARER = "wearer"
    CARER = "carer"
    """Carries a pass for a few hours or nights."""
    FORMER = "former"
    """Was a guardian, or carried a pass, and is or does so no more."""
    ASSISTANT = "assistant"
    PRACTITIONER = "practitioner"
    MANAGER = "manager"


STAFF_ROLES = frozenset({Role.ASSISTANT, Role.PRACTITIONER, Role.MANAGER})


class Action(StrEnum):
    SEE_TONIGHT = "see_tonight"
    """What tonight should be, whom to call, and what became of one's own reports."""
    SEE_CARE = "see_care"
    """The evening and morning steps, and what to do when a lens is in trouble."""
    SEE_OWN_PAGES = "see_own_pages"
    """The diary, the forecast and all reports, as the family sees them."""
    SEE_SERIOUS_REPORTS = "see_serious_reports"
    """Reports of level 3 or more."""
    WRITE_DIARY = "write_diary"
    REPORT_SYMPTOMS = "report_symptoms"
    REPORT_UNVERIFIED = "report_unverified"
    """Send a report that the desk sees as unverified, and that shows its sender nothing."""
    KEEP_PROFILE = "keep_profile"
    """The wearer's sign and usual hours."""
    GIVE_PASS = "give_pass"
    VOUCH = "vouch"
    """Ask the practice to let a co-guardian back in."""
    READ_HANDOVER = "read_handover"
    """Be told, before a hand-over, who will see what."""
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
    """Add a wearer, invite the family, offer a hand-over, end a guardianship, book a visit."""
    RECOVER_FAMILY = "recover_family"
    """Let a family member back in who can't sign in."""
    MANAGE_STAFF = "manage_staff"
    """Invite staff, end a membership, let a colleague back in."""
    MANAGE_PRACTICE = "manage_practice"
    """Name, phone, hours, and how alerts climb."""


_CARER = {Action.SEE_TONIGHT, Action.SEE_CARE, Action.REPORT_SYMPTOMS}
_FAMILY = _CARER | {
    Action.SEE_OWN_PAGES,
    Action.SEE_SERIOUS_REPORTS,
    Action.WRITE_DIARY,
    Action.KEEP_PROFILE,
    Action.READ_HANDOVER,
}
_FRONT_DESK = {Action.ENROL, Action.GIVE_PASS, Action.RECOVER_FAMILY}
_ASSISTANT = {
    Action.SEE_DESK,
    Action.SEE_RECORD,
    Action.WRITE_DIARY,
    Action.TAKE_ALERT,
    Action.RECORD_CONTACT,
    Action.CLOSE_MILD_ALERT,
    *_FRONT_DESK,
}

GRANTS: Mapping[Role, frozenset[Action]] = {
    Role.GUARDIAN: frozenset(_FAMILY | {Action.GIVE_PASS, Action.VOUCH}),
    Role.WATCHING: frozenset(_CARER | {Action.SEE_SERIOUS_REPORTS, Action.VOUCH}),
    Role.WEARER: frozenset(_FAMILY),
    Role.CARER: frozenset(_CARER),
    Role.FORMER: frozenset({Action.REPORT_UNVERIFIED}),
    Role.ASSISTANT: frozenset(_ASSISTANT),
    Role.PRACTITIONER: frozenset(
        _ASSISTANT | {Action.CLOSE_SERIOUS_ALERT, Action.LIFT_HOLD, Action.PRESCRIBE}
    ),
    Role.MANAGER: frozenset(
        {Action.SEE_DESK, Action.SEE_RECORD, Action.TAKE_ALERT, Action.RECORD_CONTACT}
        | {*_FRONT_DESK, Action.MANAGE_STAFF, Action.MANAGE_PRACTICE}
    ),
}


def may(roles: Iterable[Role], action: Action) -> bool:
    """Say whether any of ``roles`` grants ``action``."""
    return any(action in GRANTS[role] for role in roles)
