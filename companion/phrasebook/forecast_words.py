"""Words about a forecast itself: what it was made from, how it has fared, what it does not explain, what to ask.

For families plain and never reassuring, for the practice with numbers. Decides nothing; how finely a chance may be
said is held here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from companion.phrasebook.desk_words import EYES
from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases

SUREST, LEAST = 0.95, 0.05
"""No chance is said more finely than that it lies beyond these: the model itself is not surer."""

# -- for families ----------------------------------------------------------------------------------------------
MOSTLY_POPULATION: Mapping[str, str] = {
    # note: A forecast from what such lenses do in other people, as long as there are few checks of these eyes.
    "both": N_("This is mostly how lenses like these work in most eyes. Sight checks make it fit these eyes."),
    "right": N_("For the right eye, this is mostly how such a lens works in most eyes. Sight checks make it fit."),
    "left": N_("For the left eye, this is mostly how such a lens works in most eyes. Sight checks make it fit."),
}
OLD_CHECKS = N_("The last sight checks are old. A new one brings this up to date.")
NO_FORECAST = N_("This can't be worked out right now. The practice's plan stands.")

CHECKS: Mapping[tuple[str, str], str] = {
    # note: One line that asks for a look at sight, with its reason. No pressing.
    ("this_evening", "answer"): N_("A sight check this evening would help to answer about tomorrow."),
    ("this_evening", "lasting"): N_("A sight check this evening would help to say how long sight lasts."),
    ("tomorrow_morning", "answer"): N_(
        "A sight check tomorrow morning would help to answer about the next night."
    ),
    ("tomorrow_morning", "lasting"): N_("A sight check tomorrow morning would help to say how long sight lasts."),
    ("now", "answer"): N_("One look with each eye helps to answer about tonight."),
    ("now", "lasting"): N_("One look with each eye helps to say how long sight lasts."),
}

SURPRISE: Mapping[str, str] = {
    # note: Heading. Several checks were clearly worse than the lens nights would lead one to expect.
    "right": N_("The right eye sees less than the nights explain."),
    "left": N_("The left eye sees less than the nights explain."),
    "both": N_("Both eyes see less than the nights explain."),
}
SURPRISE_STEPS: Mapping[str, str] = {
    # note: Steps under that heading, in this order. They never comfort. The first leads to the report of trouble.
    "trouble": N_("Is an eye red? Does it hurt? Did sight blur all at once? Tap “Something is wrong” now."),
    "marks": N_("Look at the mark on each lens. Each lens belongs in its own eye."),
    "swapped": N_(
        "The two lenses may have changed places. Do the marks say so? Then each goes into its own eye on the next "
        "night in lenses. Not sure? Leave both out, and call the practice."
    ),
    "tell": N_("Tell the practice. Only they can look at the eye and the lens."),
}


def record_text(phrases: Phrases, inside: int, of: int) -> str:
    """Say how earlier forecasts fared."""
    # note: a check is a look at sight; %(num)s checks were made, %(inside)s of them came out as foretold
    return phrases.ngettext(
        "%(inside)s of the last %(num)s check came out as expected.",
        "%(inside)s of the last %(num)s checks came out as expected.",
        of,
        inside=phrases.number(inside),
    )


def used_text(phrases: Phrases, checks: int, refractions: int) -> str:
    """Say what a forecast was made from."""
    # note: "Made from 18 sight checks and 2 measurements at the practice."
    said = phrases.ngettext("%(num)s sight check", "%(num)s sight checks", checks)
    if not refractions:
        return phrases.gettext("Made from %(checks)s.", checks=said)
    # note: of an eye, by the practice
    measured = phrases.ngettext(
        "%(num)s measurement at the practice", "%(num)s measurements at the practice", refractions
    )
    return phrases.gettext("Made from %(checks)s and %(measurements)s.", checks=said, measurements=measured)


def kept_text(phrases: Phrases, hours: int) -> str:
    """Say that the forecast shown is an old one."""
    age = phrases.span(timedelta(hours=max(1, hours)))
    # note: %(age)s is a length of time, as "3 hours"
    return phrases.gettext(
        "This is %(age)s old. A new one can't be worked out right now, so it frees no night.", age=age
    )


def family_lines(phrases: Phrases, forecast: Mapping[str, Any]) -> list[str]:
    """Say all that a family should know of a forecast: what it is worth first, what it came from last."""
    warnings = forecast["warnings"]
    keys = {one["key"] for one in warnings}
    lines = [kept_text(phrases, one["values"]["hours"]) for one in warnings if one["key"] == "forecast_kept"]
    if "no_forecast" in keys:
        return [phrases.say(NO_FORECAST)]
    if "stale" in forecast["fell_back"].values():
        lines.append(phrases.say(OLD_CHECKS))
    general = [one["values"]["eye"] for one in warnings if one["key"] == "mostly_population"]
    if general:
        every = len(general) == forecast["eyes"]
        lines.append(phrases.say(MOSTLY_POPULATION["both" if every else general[0]]))
    record, used = forecast["record"], forecast["used"]
    if record["of"]:
        lines.append(record_text(phrases, record["inside"], record["of"]))
    if used["checks"]:
        lines.append(used_text(phrases, used["checks"], used["refractions"]))
    return lines


# -- for the practice ------------------------------------------------------------------------------------------
OWN: Sequence[tuple[float, InContext]] = (
    # note: How far a forecast is this eye's own, against what holds for most eyes.
    (3.0, NP_("forecast", "much of its own")),
    (1.0, NP_("forecast", "some of its own")),
    (0.0, NP_("forecast", "little of its own")),
)
"""From so many nats on; the middle one is where a forecast counts as personal. Design."""

FELL_BACK: Mapping[str, InContext] = {
    "contradictory": NP_("forecast", "the checks contradict each other and were set aside"),
    "stale": NP_("forecast", "the last reading is more than 60 days old; readings were set aside"),
}

SWAPPED = N_("Perhaps the lenses are swapped.")

WARNINGS: Mapping[str, str] = {
    # note: for the practice, about one eye's forecast; %(eye)s is "right eye" or "left eye"
    "mostly_population": N_("%(eye)s: mostly population, not personal yet"),
    "little_known_direction": N_(
        "%(eye)s: a lens for long sight or reading; little is published, the band is wider"
    ),
    "lens_long_in": N_("%(eye)s: the lens has been in for %(hours)s hours"),
    "no_forecast": N_("The forecast can't be made right now; see the worker's log."),
}


def chance_text(phrases: Phrases, chance: float) -> str:
    """Say a chance in per cent, never more finely than the model is sure."""
    if chance > SUREST:
        return phrases.gettext("over 95 %%")
    if chance < LEAST:
        return phrases.gettext("under 5 %%")
    return phrases.number(chance, "0 %")


def own_text(phrases: Phrases, learned: float) -> str:
    """Say how far a forecast is this eye's own [nats]."""
    return phrases.say(next(words for least, words in OWN if learned >= least))


def surprise_text(phrases: Phrases, one: Mapping[str, Any]) -> str:
    """Say which eye sees less than the nights explain, and how far."""
    # note: "2 lines" of a chart
    lines = phrases.ngettext("%(num)s line", "%(num)s lines", one["lines"])
    # note: %(by)s is in logMAR, %(lines)s as "2 lines"
    return phrases.gettext(
        "%(eye)s: worse than the nights explain by %(by)s logMAR (about %(lines)s)",
        eye=phrases.say(EYES[one["eye"]]),
        by=phrases.number(one["worse_logmar"], "0.00"),
        lines=lines,
    )


def surprise_details(phrases: Phrases, one: Mapping[str, Any]) -> str:
    """Say in how many checks it was so, and what it may be."""
    said = phrases.ngettext(
        "In %(checks)s of the last %(num)s check.",
        "In %(checks)s of the last %(num)s checks.",
        one["of"],
        checks=phrases.number(one["checks"]),
    )
    return f"{said} {phrases.say(SWAPPED)}" if one["perhaps_swapped"] else said


def warning_text(phrases: Phrases, key: str, values: Mapping[str, Any]) -> str:
    """Say one warning of a forecast to the practice."""
    if key == "forecast_kept":
        return kept_text(phrases, values["hours"])
    said = {name: phrases.number(one) for name, one in values.items() if not isinstance(one, str)}
    if "eye" in values:
        said["eye"] = phrases.say(EYES[values["eye"]])
    if key == "unknown_nights":
        # note: of the last 14 nights; nobody logged them
        return phrases.ngettext(
            "%(eye)s: %(num)s of the last 14 nights is unknown",
            "%(eye)s: %(num)s of the last 14 nights are unknown",
            int(values["nights"]),
            eye=said["eye"],
        )
    return phrases.say(WARNINGS[key], **said)
