"""What stands on a card that the practice or a guardian hands over: in the language of whoever gets it.

The steps for the first night say nothing that the practice has not shown; they come from the house's own safety
page on hygiene, shortened. No clinician or linguist has reviewed them yet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.phrasebook.marks import N_

SCAN = N_("Point the camera of your phone at the square, or type the link.")
NO_MAIL = N_("Choose how you sign in: a phone number or a short name will do. No e-mail is needed.")
EMERGENCY = N_("This app is not an emergency service. Trouble with an eye? Phone the practice.")
FIRST_NIGHT: Sequence[str] = (
    N_("Wash your hands with soap for 20 seconds. Dry them with a clean cloth."),
    N_("Look at the eye. Not white, not comfortable, or ill? Put no lens in. Phone the practice."),
    N_("Do each step as the practice has shown you. Never use water on a lens."),
    N_("Lens in? Tap “Lenses in now”."),
    N_("In the morning: drops, then blink. Take a lens out only when it moves. Tap “Lenses out now”."),
    N_("Red, sore, light hurts, or sight is worse? Tap “Something is wrong”, and phone the practice."),
)
FOR_CARERS: Sequence[str] = (
    N_("You see what tonight should be, the care steps, and whom to call."),
    N_("Do only what you were shown. Never force a lens, and never use water on it."),
    N_("Red, sore, light hurts, or sight is worse? Tap “Something is wrong”, and phone the practice."),
)


@dataclass(frozen=True)
class CardText:
    """The words of one kind of card; ``heading`` takes ``name``, ``line`` takes ``practice`` and ``wearer``."""

    heading: str
    line: str
    how: Sequence[str]
    steps_heading: str | None = None
    steps: Sequence[str] = ()


_FAMILY = {"steps_heading": N_("The first night"), "steps": FIRST_NIGHT}
CARDS: Mapping[str, CardText] = {
    "guardian": CardText(
        N_("Welcome, %(name)s"),
        N_("%(practice)s invites you to look after %(wearer)s's lenses here."),
        (SCAN, NO_MAIL),
        **_FAMILY,  # type: ignore[arg-type]
    ),
    "wearer": CardText(
        N_("Welcome, %(name)s"),
        N_("%(practice)s invites you to keep your own diary of lenses here."),
        (SCAN, NO_MAIL),
        **_FAMILY,  # type: ignore[arg-type]
    ),
    "staff": CardText(
        N_("Welcome, %(name)s"),
        N_("%(practice)s invites you to work with its patients here."),
        (SCAN, N_("With an e-mail address you are told of reports.")),
    ),
    "pass": CardText(
        N_("A pass for %(name)s"),
        N_("For helping %(wearer)s with lenses, at %(practice)s."),
        (SCAN,),
        steps_heading=N_("What it is for"),
        steps=FOR_CARERS,
    ),
    "recovery": CardText(
        N_("Back in, %(name)s"),
        N_("%(practice)s lets you choose a new password."),
        (SCAN,),
    ),
    "vouched": CardText(
        N_("Back in, %(name)s"),
        N_("%(practice)s has to speak with you first. Then this link lets you choose a new password."),
        (SCAN, N_("Phone the practice, or wait for its call. Then open the link.")),
    ),
}
