"""Every table, by noun. Import from here."""

from companion.store.models.alerts import Alert, Delivery, Outbox
from companion.store.models.audit import AuditEvent, JobRun
from companion.store.models.diary import EntryRow, Hold, Report, WearerState
from companion.store.models.people import Consent, Invitation, Membership, Person, SignIn
from companion.store.models.practices import Practice
from companion.store.models.prescriptions import ClearanceRow, Lens, Plan, Refraction, Visit
from companion.store.models.wearers import Guardianship, Wearer

__all__ = [
    "Alert",
    "AuditEvent",
    "ClearanceRow",
    "Consent",
    "Delivery",
    "EntryRow",
    "Guardianship",
    "Hold",
    "Invitation",
    "JobRun",
    "Lens",
    "Membership",
    "Outbox",
    "Person",
    "Plan",
    "Practice",
    "Refraction",
    "Report",
    "SignIn",
    "Visit",
    "Wearer",
    "WearerState",
]
