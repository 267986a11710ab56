"""The table of doors: for each route and method, what each kind of visitor gets.

Columns: ``nobody`` signed in; ``family``, the guardian of this child, or the adult wearer in their own pages;
``stranger``, somebody else's guardian, or another wearer; the three roles of this practice; ``elsewhere``, the
same three of another practice; ``carer``, who carries a pass for this child, ``lapsed``, whose pass has lapsed;
``removed``, whose guardianship the practice has ended. Two answers stand where two people knock as one kind. Where
a role may not do a thing at all, its bearer elsewhere hears just that.

``form`` is what is posted, ``query`` what follows the address; ``{wearer_id}`` and the like stand for the ids of
the record asked for. ``arguments`` are parts of the address that are no ids.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

SHOWN = "shown"
"""The page."""
ON = "on"
"""Done, or a way on: a redirect to another page."""
SIGN_IN = "sign in"
"""Led to the sign-in; a form is kept meanwhile."""
UNKNOWN = "unknown"
"""404: there is no such thing, as far as they can tell."""
REFUSED = "refused"
"""403: it is there, and not theirs."""


Answer = str | tuple[str, ...]
NOT_THERE = (UNKNOWN, UNKNOWN, UNKNOWN)


@dataclass(frozen=True)
class Door:
    method: str
    endpoint: str
    nobody: str
    family: Answer
    stranger: str
    assistant: str
    practitioner: str
    manager: str
    elsewhere: tuple[str, str, str]
    carer: str = REFUSED
    lapsed: str = REFUSED
    removed: str = REFUSED
    form: Mapping[str, str] = field(default_factory=dict)
    query: str = ""
    arguments: Mapping[str, str] = field(default_factory=dict)
    photo: str = ""
    """The field of the form that carries a photo."""
    json: Mapping[str, object] = field(default_factory=dict)
    """What a script posts, with the header that only a script can send."""
    sign: str = "sync"
    """What stands in that header."""

    def __str__(self) -> str:
        return " ".join((self.method, self.endpoint, *self.arguments.values()))


def everybody(method: str, endpoint: str, answer: str, nobody: str = "", **more: Mapping[str, str] | str) -> Door:
    """A door that is the same to all who are signed in, and to nobody unless said."""
    same = {"carer": answer, "lapsed": answer, "removed": answer}
    return Door(method, endpoint, nobody or answer, *[answer] * 5, (answer,) * 3, **(same | more))


def with_account(method: str, endpoint: str, answer: str, **more: Mapping[str, str]) -> Door:
    """A page about one's own account, which the carrier of a pass has not."""
    return everybody(method, endpoint, answer, nobody=SIGN_IN, carer=REFUSED, lapsed=REFUSED, **more)


def of_family(
    method: str, endpoint: str, answer: Answer, staff: tuple[str, str, str], **more: Mapping[str, str] | str
) -> Door:
    """A page about one wearer, which the family uses; ``staff`` of this practice in the order of roles."""
    return Door(method, endpoint, SIGN_IN, answer, UNKNOWN, *staff, NOT_THERE, **(GONE | more))


def of_practice(
    method: str,
    endpoint: str,
    staff: tuple[str, str, str],
    elsewhere: tuple[str, str, str],
    **more: Mapping[str, str],
) -> Door:
    """A page of the practice: no family member gets in."""
    return Door(method, endpoint, SIGN_IN, REFUSED, REFUSED, *staff, elsewhere, **more)


def of_record(method: str, endpoint: str, staff: tuple[str, str, str], **more: Mapping[str, str]) -> Door:
    """A page of the practice about one wearer: the family is refused, strangers learn nothing."""
    return Door(method, endpoint, SIGN_IN, REFUSED, UNKNOWN, *staff, NOT_THERE, **(GONE | more))


GONE = {"lapsed": UNKNOWN, "removed": UNKNOWN}
ALL_STAFF = (SHOWN, SHOWN, SHOWN)
ALL_DONE = (ON, ON, ON)
NO_STAFF = (REFUSED, REFUSED, REFUSED)
DIARY_WRITERS = (ON, ON, REFUSED)
PRACTITIONER_SHOWN, PRACTITIONER_DONE = (REFUSED, SHOWN, REFUSED), (REFUSED, ON, REFUSED)

ENTRY = {"id": "{fresh}", "zone": "Europe/London", "eyes": "right"}
JOIN = {
    "name": "Ann",
    "login": "ann",
    "password": "four plain long words",
    "password_again": "four plain long words",
}
PLAN = {"every": "1", "target_acuity_logmar": "0.2", "target_until": "18:00", "target_eyes": "each"}
REFRACTION = {"eye": "right", "kind": "baseline", "sphere_d": "-2.5"}
LENS = {"eye": "right", "marked_as": "dot", "aim_d": "0.5"}
CARE = {
    "system": "multipurpose", "case_days": "90", "bottle_days": "60", "lens_days": "365", "stored_days": "7",
}  # fmt: skip
PRACTICE = {
    "name": "Practice by the pond",
    "phone": "+441632960000",
    "triage_on": "yes",
    "handover_age": "16",
    "illness_holds": "yes",
    "one_eye_holds_both": "yes",
}
ALERTS = {
    "contact_minutes": "60", "minutes_5_1": "5", "minutes_5_2": "10", "minutes_4_1": "15", "minutes_4_2": "30",
    "minutes_3_1": "120",
}  # fmt: skip
DAY = {
    "id": "{fresh}", "label": "A test", "day": "2026-11-07", "starts": "09:00", "ends": "17:00", "driving": "no",
}  # fmt: skip
COLLEAGUE = {"name": "Ann", "role": "assistant"}
MOVE = {"id": "{fresh}", "moved_id": "{another}", "to": "{other}"}
SYNC = {
    "version": 1, "device": "5f0c6f0e-8b0d-4c0e-9a53-4e1f5a3f2b10", "sent_at": "2026-11-02T20:30:00Z",
    "wearers": {},
}  # fmt: skip
BROWSER = {
    "subscription": {
        "endpoint": "https://push.example.net/1",
        "keys": {  # RFC 8291, appendix A
            "p256dh": "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
            "auth": "BTBZMqHH6r4Tts7J_aSIgg",
        },
    },
}
MANAGER_SHOWN, MANAGER_DONE = (REFUSED, REFUSED, SHOWN), (REFUSED, REFUSED, ON)
GUARDIAN_SHOWN, GUARDIAN_DONE = (SHOWN, REFUSED), (ON, REFUSED)
"""A guardian may; a wearer in their own pages may not."""
DANGER = {
    "eyes": "right", "page": "0", "general.very_unwell": "yes", "right.chemical": "no", "right.injury": "no",
}  # fmt: skip
CORRECTION = ENTRY | {"kind": "lenses_in", "at": "2026-11-02T20:00:00+00:00", "eyes": "left"}

DOORS: tuple[Door, ...] = (
    # -- open to all
    everybody("GET", "account.home", ON, nobody=SIGN_IN),
    everybody("GET", "account.sign_in", SHOWN),
    everybody("POST", "account.sign_in", ON, form={"login": "gwen", "password": "four plain long words"}),
    everybody("GET", "account.join", SHOWN),
    everybody("POST", "account.join", ON, form=JOIN),
    everybody("GET", "ways_in.carry", SHOWN, arguments={"token": "{pass_token}"}),
    everybody("POST", "ways_in.carry", ON, arguments={"token": "{pass_token}"}),
    everybody("GET", "ways_in.recover", SHOWN, arguments={"token": "{recovery_token}"}),
    everybody("POST", "ways_in.recover", ON, arguments={"token": "{recovery_token}"}, form=JOIN),
    everybody("GET", "wrong.first", SHOWN),
    everybody("GET", "wrong.stranger", SHOWN, query="eyes=right"),
    everybody("POST", "wrong.stranger", SHOWN, form=DANGER),
    everybody("GET", "stylebook.style", SHOWN),
    everybody("GET", "stylebook.health", SHOWN),
    everybody("GET", "static", SHOWN, arguments={"path": "icon.svg"}),
    # -- the phone's: public files, and the one address of a script, which says itself who gets what
    everybody("GET", "shell.app", SHOWN),
    everybody("GET", "shell.worker", SHOWN),
    everybody("GET", "shell.manifest", SHOWN),
    everybody("GET", "shell.words", SHOWN, arguments={"tag": "en"}),
    everybody("POST", "sync.sync", SHOWN, nobody=SIGN_IN, json=SYNC),
    # -- one's own
    everybody("POST", "account.sign_out", ON, nobody=SIGN_IN),
    with_account("GET", "account.consent", SHOWN),
    with_account("POST", "account.consent", ON, form={"version": "{consent}"}),
    with_account("GET", "account.us", SHOWN),
    with_account("POST", "account.us", ON, form={"theme": "lamp"}),
    with_account("GET", "us.password", SHOWN),
    with_account("POST", "us.password", ON, form=JOIN | {"old": "four plain long words"}),
    with_account("GET", "us.sign_ins", SHOWN),
    with_account("POST", "us.end_sign_in", UNKNOWN, arguments={"sign_in_id": "{fresh}"}),
    with_account("POST", "us.end_others", ON),
    with_account("GET", "us.stored", SHOWN),
    with_account("GET", "us.stored_file", SHOWN),
    with_account("GET", "us.withdraw", SHOWN),
    with_account("POST", "us.withdraw", ON),
    with_account("GET", "channels.alerts", SHOWN),
    with_account("POST", "channels.end_device", UNKNOWN, arguments={"subscription_id": "{fresh}"}),
    with_account("POST", "channels.test_devices", ON, removed=UNKNOWN),
    Door(
        "POST", "channels_script.switch_on", SIGN_IN, *[SHOWN] * 5, ALL_STAFF, REFUSED, REFUSED, SHOWN,
        json=BROWSER, sign="alerts",
    ),
    Door(
        "POST", "channels_script.switch_off", SIGN_IN, *[SHOWN] * 5, ALL_STAFF, REFUSED, REFUSED, SHOWN,
        json={"endpoint": "https://push.example.net/1"}, sign="alerts",
    ),
    Door(
        "GET", "family.whose", SIGN_IN, ON, ON, SHOWN, SHOWN, SHOWN, ALL_STAFF, ON, SHOWN, SHOWN,
        arguments={"place": "tonight"},
    ),
    # -- the family's pages
    of_family("GET", "family.tonight_of", SHOWN, NO_STAFF, carer=SHOWN),
    of_family("POST", "family.record", ON, DIARY_WRITERS, form=ENTRY | {"kind": "lenses_out"}),
    of_family("POST", "family.withdraw", ON, DIARY_WRITERS, form=ENTRY),
    of_family("GET", "family.sight", SHOWN, NO_STAFF),
    of_family(
        "POST", "family.sight", ON, DIARY_WRITERS, form=ENTRY | {"word_right": "good", "id_word_right": "{fresh}"}
    ),
    of_family("GET", "diary.weeks", SHOWN, NO_STAFF),
    of_family("GET", "diary.night", SHOWN, NO_STAFF),
    of_family("POST", "diary.night", ON, DIARY_WRITERS, form=ENTRY | {"kind": "no_lenses"}),
    # Neither Gwen nor Wim looks after another wearer to whom it could move; the practice may.
    of_family("POST", "diary.move", UNKNOWN, DIARY_WRITERS, form=MOVE),
    of_family("POST", "diary.correct", ON, DIARY_WRITERS, form=CORRECTION),
    of_family("GET", "diary.note", SHOWN, NO_STAFF),
    of_family("POST", "diary.note", ON, DIARY_WRITERS, form=ENTRY | {"text": "A new case."}),
    of_family("GET", "diary.planned", SHOWN, NO_STAFF),
    of_family(
        "POST", "diary.planned", ON, DIARY_WRITERS, form=ENTRY | {"since": "2026-10-30", "until": "2026-11-01"}
    ),
    of_family("GET", "days.days_of", SHOWN, NO_STAFF),
    of_family("POST", "days.days_of", ON, DIARY_WRITERS, form=DAY),
    of_family("POST", "days.remove", ON, DIARY_WRITERS),
    of_family("GET", "days.weeks", SHOWN, NO_STAFF),
    of_family("GET", "us.profile_of", SHOWN, NO_STAFF),
    of_family("POST", "us.profile_of", ON, NO_STAFF, form={"mark": "kite"}),
    of_family("GET", "us.passes_of", GUARDIAN_SHOWN, ALL_STAFF),
    of_family("POST", "us.passes_of", GUARDIAN_SHOWN, ALL_STAFF, form={"name": "Granny", "lasts": "1"}),
    of_family("POST", "us.end_pass", GUARDIAN_DONE, ALL_DONE),
    of_family("GET", "us.adults", GUARDIAN_SHOWN, NO_STAFF),
    of_family("POST", "us.vouch", GUARDIAN_SHOWN, NO_STAFF),
    of_family("GET", "us.handover_of", SHOWN, NO_STAFF),
    of_family("POST", "us.handover_of", ON, NO_STAFF),
    of_family("GET", "wrong.questions_of", SHOWN, NO_STAFF, query="eyes=right", carer=SHOWN),
    # A report of somebody signed out is judged and shown at once; only nothing is stored. Whose right has ended
    # is shown what to do and nothing of the child; the desk gets the report.
    Door(
        "POST", "wrong.questions_of", SHOWN, ON, UNKNOWN, *NO_STAFF, NOT_THERE, ON, SHOWN, SHOWN,
        form=ENTRY | DANGER,
    ),
    of_family("GET", "wrong.report", SHOWN, NO_STAFF),
    of_family("POST", "promise.say_called", ON, NO_STAFF, form={"called": "no"}),
    of_family("GET", "photos.add", SHOWN, NO_STAFF),
    of_family("POST", "photos.add", ON, NO_STAFF, form={"id": "{fresh}", "eye": "right"}, photo="photo"),
    of_family("GET", "photos.photo", SHOWN, ALL_STAFF),
    of_family("POST", "wrong.more", ON, NO_STAFF, form={"asked_level": "5"}),
    of_family("GET", "care.steps", SHOWN, NO_STAFF, carer=SHOWN),
    of_family("GET", "care.help_with", SHOWN, NO_STAFF, carer=SHOWN, arguments={"topic": "stings"}),
    of_family("GET", "care.stuck", SHOWN, NO_STAFF, carer=SHOWN),
    of_family("POST", "care.stuck", ON, DIARY_WRITERS, carer=ON, form=ENTRY | {"said": "stuck"}),
    of_family("POST", "care.soak", ON, DIARY_WRITERS, form=ENTRY),
    of_family("GET", "care.renew", SHOWN, NO_STAFF, arguments={"item": "case"}),
    of_family("POST", "care.renew", ON, NO_STAFF, arguments={"item": "case"}, form=ENTRY | {"day": "2026-11-02"}),
    # -- the practice's pages
    of_practice("GET", "regimens.regimen", ALL_STAFF, ALL_STAFF),
    of_practice("POST", "regimens.regimen", PRACTITIONER_DONE, PRACTITIONER_DONE, form=CARE),
    of_practice("GET", "practice.desk", ALL_STAFF, ALL_STAFF),
    of_practice("GET", "practice.news", ALL_STAFF, ALL_STAFF),
    of_practice("GET", "practice.yields", ALL_STAFF, ALL_STAFF),
    of_practice("GET", "practice.wearers", ALL_STAFF, ALL_STAFF),
    of_practice("GET", "practice.new_wearer", ALL_STAFF, ALL_STAFF),
    of_practice(
        "POST", "practice.new_wearer", ALL_DONE, ALL_DONE, form={"name": "Una", "birth_date": "2015-05-05"}
    ),
    of_practice("GET", "practice.alert", ALL_STAFF, NOT_THERE),
    of_practice("GET", "practice.take", ALL_STAFF, NOT_THERE),
    of_practice("POST", "practice.take", ALL_DONE, NOT_THERE),
    of_practice("POST", "practice.contact", ALL_DONE, NOT_THERE, form={"reached": "yes"}),
    of_practice(
        "POST",
        "practice.close",
        PRACTITIONER_DONE,
        (UNKNOWN, UNKNOWN, REFUSED),
        form={"outcome": "seen_here", "confirmed": "yes"},
    ),
    of_practice(
        "POST",
        "practice.lift",
        PRACTITIONER_DONE,
        (REFUSED, UNKNOWN, REFUSED),
        form={"wearer_id": "{wearer_id}", "reason": "Seen", "next_step": "as_planned"},
    ),
    of_record("GET", "practice.wearer", ALL_STAFF),
    of_record("GET", "plans.plans_of", ALL_STAFF),
    # -- people
    of_practice("GET", "people.staff_list", MANAGER_SHOWN, MANAGER_SHOWN),
    of_practice("POST", "people.staff_list", MANAGER_SHOWN, MANAGER_SHOWN, form=COLLEAGUE),
    of_practice(
        "POST",
        "people.end_membership",
        MANAGER_DONE,
        (REFUSED, REFUSED, UNKNOWN),
        arguments={"person_id": "{asta}", "role": "assistant"},
    ),
    of_practice("GET", "people.practice", MANAGER_SHOWN, MANAGER_SHOWN),
    of_practice("POST", "people.practice", MANAGER_DONE, MANAGER_DONE, form=PRACTICE),
    of_practice("GET", "promise.alerts", MANAGER_SHOWN, MANAGER_SHOWN),
    of_practice("POST", "promise.alerts", MANAGER_DONE, MANAGER_DONE, form=ALERTS),
    of_practice("POST", "promise.switch", MANAGER_DONE, MANAGER_DONE, form={"on": "no", "confirmed": "yes"}),
    of_practice(
        "POST", "promise.send_test", MANAGER_DONE, (REFUSED, REFUSED, UNKNOWN), arguments={"person_id": "{asta}"}
    ),
    of_practice("GET", "promise.test_alert", (SHOWN, REFUSED, REFUSED), NOT_THERE),
    of_practice("POST", "promise.test_alert", (ON, REFUSED, REFUSED), NOT_THERE),
    of_practice("GET", "channels.gateway", MANAGER_SHOWN, MANAGER_SHOWN),
    of_practice(
        "POST", "channels.gateway", MANAGER_SHOWN, MANAGER_SHOWN, form={"url": "https://gateway.example/alerts"}
    ),
    of_practice("POST", "channels.end_gateway", MANAGER_DONE, MANAGER_DONE),
    of_practice("POST", "channels.test_gateway", (REFUSED, REFUSED, UNKNOWN), (REFUSED, REFUSED, UNKNOWN)),
    of_practice("GET", "tongues.languages_page", MANAGER_SHOWN, MANAGER_SHOWN),
    of_practice(
        "POST", "tongues.languages_page", MANAGER_DONE, MANAGER_DONE, form={"language": "en", "deed": "lock"}
    ),
    of_record("POST", "people.resend", ALL_STAFF),
    of_record("POST", "people.revoke", ALL_DONE),
    of_record("GET", "people.end_guardianship", ALL_STAFF),
    of_record("POST", "people.end_guardianship", ALL_DONE),
    of_practice("POST", "people.recover", ALL_STAFF, NOT_THERE),
    of_practice("POST", "people.recovery_asked", ALL_DONE, NOT_THERE, arguments={"deed": "confirm"}),
    of_record("GET", "people.hand_over", ALL_STAFF),
    of_record("POST", "people.hand_over", ALL_DONE),
    *(
        door
        for sheet, form in {
            "plan": PLAN,
            "clearance": {"may_skip": "no"},
            "refraction": REFRACTION,
            "lens": LENS,
        }.items()
        for door in (
            of_record("GET", "practice.sheet", PRACTITIONER_SHOWN, arguments={"sheet": sheet}),
            of_record("POST", "practice.sheet", PRACTITIONER_DONE, arguments={"sheet": sheet}, form=form),
        )
    ),
    of_record("GET", "practice.sheet", ALL_STAFF, arguments={"sheet": "visit"}),
    of_record(
        "POST",
        "practice.sheet",
        ALL_DONE,
        arguments={"sheet": "visit"},
        form={"due_on": "2026-12-01", "kind": "week"},
    ),
    of_record("GET", "practice.sheet", ALL_STAFF, arguments={"sheet": "invite"}),
    of_record(
        "POST",
        "practice.sheet",
        ALL_STAFF,
        arguments={"sheet": "invite"},
        form={"kind": "guardian", "name": "Ann"},
    ),
)
