"""The table of doors: for each route and method, what each kind of visitor gets.

Columns: ``nobody`` signed in; ``family``, the guardian of this child, or the adult wearer in their own pages;
``stranger``, somebody else's guardian, or another wearer; the three roles of this practice; ``elsewhere``, the
same three of another practice. Where a role may not do a thing at all, its bearer elsewhere hears just that.

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


NOT_THERE = (UNKNOWN, UNKNOWN, UNKNOWN)


@dataclass(frozen=True)
class Door:
    method: str
    endpoint: str
    nobody: str
    family: str
    stranger: str
    assistant: str
    practitioner: str
    manager: str
    elsewhere: tuple[str, str, str]
    form: Mapping[str, str] = field(default_factory=dict)
    query: str = ""
    arguments: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return " ".join((self.method, self.endpoint, *self.arguments.values()))


def everybody(method: str, endpoint: str, answer: str, nobody: str = "", **more: Mapping[str, str] | str) -> Door:
    """A door that is the same to all who are signed in, and to nobody unless said."""
    return Door(method, endpoint, nobody or answer, *[answer] * 5, (answer,) * 3, **more)


def of_family(
    method: str, endpoint: str, answer: str, staff: tuple[str, str, str], **more: Mapping[str, str]
) -> Door:
    """A page about one wearer, which the family uses; ``staff`` of this practice in the order of roles."""
    return Door(method, endpoint, SIGN_IN, answer, UNKNOWN, *staff, NOT_THERE, **more)


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
    return Door(method, endpoint, SIGN_IN, REFUSED, UNKNOWN, *staff, NOT_THERE, **more)


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
    everybody("GET", "wrong.first", SHOWN),
    everybody("GET", "wrong.stranger", SHOWN, query="eyes=right"),
    everybody("POST", "wrong.stranger", SHOWN, form=DANGER),
    everybody("GET", "stylebook.style", SHOWN),
    everybody("GET", "stylebook.health", SHOWN),
    everybody("GET", "static", SHOWN, arguments={"path": "icon.svg"}),
    # -- one's own
    everybody("POST", "account.sign_out", ON, nobody=SIGN_IN),
    everybody("GET", "account.consent", SHOWN, nobody=SIGN_IN),
    everybody("POST", "account.consent", ON, nobody=SIGN_IN, form={"version": "{consent}"}),
    everybody("GET", "account.us", SHOWN, nobody=SIGN_IN),
    everybody("POST", "account.us", ON, nobody=SIGN_IN, form={"theme": "lamp"}),
    Door("GET", "family.whose", SIGN_IN, ON, ON, SHOWN, SHOWN, SHOWN, ALL_STAFF, arguments={"place": "tonight"}),
    # -- the family's pages
    of_family("GET", "family.tonight_of", SHOWN, NO_STAFF),
    of_family("POST", "family.record", ON, DIARY_WRITERS, form=ENTRY | {"kind": "lenses_out"}),
    of_family("POST", "family.withdraw", ON, DIARY_WRITERS, form=ENTRY),
    of_family("GET", "family.sight", SHOWN, NO_STAFF),
    of_family(
        "POST", "family.sight", ON, DIARY_WRITERS, form=ENTRY | {"word_right": "good", "id_word_right": "{fresh}"}
    ),
    of_family("GET", "diary.weeks", SHOWN, NO_STAFF),
    of_family("GET", "diary.night", SHOWN, NO_STAFF),
    of_family("POST", "diary.night", ON, DIARY_WRITERS, form=ENTRY | {"kind": "no_lenses"}),
    of_family("POST", "diary.correct", ON, DIARY_WRITERS, form=CORRECTION),
    of_family("GET", "diary.note", SHOWN, NO_STAFF),
    of_family("POST", "diary.note", ON, DIARY_WRITERS, form=ENTRY | {"text": "A new case."}),
    of_family("GET", "diary.planned", SHOWN, NO_STAFF),
    of_family(
        "POST", "diary.planned", ON, DIARY_WRITERS, form=ENTRY | {"since": "2026-10-30", "until": "2026-11-01"}
    ),
    of_family("GET", "wrong.questions_of", SHOWN, NO_STAFF, query="eyes=right"),
    # A report of somebody signed out is judged and shown at once; only nothing is stored.
    Door("POST", "wrong.questions_of", SHOWN, ON, UNKNOWN, *NO_STAFF, NOT_THERE, form=ENTRY | DANGER),
    of_family("GET", "wrong.report", SHOWN, NO_STAFF),
    of_family("GET", "care.steps", SHOWN, NO_STAFF),
    of_family("GET", "care.help_with", SHOWN, NO_STAFF, arguments={"topic": "stings"}),
    of_family("GET", "care.stuck", SHOWN, NO_STAFF),
    of_family("POST", "care.stuck", ON, DIARY_WRITERS, form=ENTRY | {"said": "stuck"}),
    of_family("POST", "care.soak", ON, DIARY_WRITERS, form=ENTRY),
    of_family("GET", "care.renew", SHOWN, NO_STAFF, arguments={"item": "case"}),
    of_family("POST", "care.renew", ON, NO_STAFF, arguments={"item": "case"}, form=ENTRY | {"day": "2026-11-02"}),
    # -- the practice's pages
    of_practice("GET", "regimens.regimen", ALL_STAFF, ALL_STAFF),
    of_practice("POST", "regimens.regimen", PRACTITIONER_DONE, PRACTITIONER_DONE, form=CARE),
    of_practice("GET", "practice.desk", ALL_STAFF, ALL_STAFF),
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
        form={"wearer_id": "{wearer_id}", "reason": "Seen"},
    ),
    of_record("GET", "practice.wearer", ALL_STAFF),
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
