"""Every table, by noun. Import from here."""

from companion.store.models.alerts import Alert, AlertTest, Delivery, Outbox
from companion.store.models.audit import AuditEvent, JobRun
from companion.store.models.channels import PushSubscription, Webhook
from companion.store.models.days import DayThatMatters
from companion.store.models.diary import EntryRow, FitRow, Hold, Report, WearerState
from companion.store.models.people import Consent, DeviceKey, Invitation, Membership, Person, Recovery, SignIn
from companion.store.models.photos import Photo
from companion.store.models.practices import CareRegimen, Practice, PracticeLanguage
from companion.store.models.prescriptions import ClearanceRow, Lens, Plan, Refraction, Visit
from companion.store.models.wearers import CarerPass, Guardianship, Handover, Wearer

__all__ = [
    "Alert",
    "AlertTest",
    "AuditEvent",
    "CareRegimen",
    "CarerPass",
    "ClearanceRow",
    "Consent",
    "DayThatMatters",
    "Delivery",
    "DeviceKey",
    "EntryRow",
    "FitRow",
    "Guardianship",
    "Handover",
    "Hold",
    "Invitation",
    "JobRun",
    "Lens",
    "Membership",
    "Outbox",
    "Person",
    "Photo",
    "Plan",
    "Practice",
    "PracticeLanguage",
    "PushSubscription",
    "Recovery",
    "Refraction",
    "Report",
    "SignIn",
    "Visit",
    "Wearer",
    "WearerState",
    "Webhook",
]
