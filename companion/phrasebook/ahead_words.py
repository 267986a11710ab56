"""The days to come in words: days that matter, the day after a night off, the first weeks, and names of plans.

Owns the sentences for codes of ``fade/`` about them; decides nothing. Nothing here says that anybody may drive,
and a night off is told without blame.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from companion.common.moments import parse_instant
from companion.phrasebook.forecast_words import chance_text
from companion.phrasebook.marks import N_
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.tonight_words import holds_until_text, sight_range_text
from companion.regimen.plan import WEEKDAYS

DO_NOT_DRIVE = N_("Do not drive while sight is blurred.")

NOTES: Mapping[str, str] = {
    # note: What to mind for a day on which sight matters, such as a test or a match.
    "not_cleared": N_("The practice has freed no night. Wear the lenses on every night of the plan."),
    "no_free_night": N_("Leave no other night free before it."),
    "below_target": N_("Even so, sight may not be good enough that day. Ask the practice in time."),
    "glasses_at_hand": N_("Keep glasses at hand."),
    "driving_not_judged": N_(
        "This app can't say who may drive. The law says that, and a check at the practice. Is sight blurred or "
        "double, or do rings hide the road? Do not drive."
    ),
}
STOPPED: Mapping[str, str] = {
    "do_not_wear": N_("Lenses may not go in for now, so no night is named. The practice says when they may."),
    "ask_clinic": N_("Ask the practice before the next night. Until then no night is named."),
}
WHAT_TO_DO: Mapping[str, str] = {
    # note: What to do after a night without lenses. Kind, without blame, one action a sentence.
    "glasses": N_("Wear glasses when sight is soft. Take them along."),
    "no_driving_if_blurred": DO_NOT_DRIVE,
    "wear_tonight": N_("Lenses in tonight."),
    "not_longer_than_usual": N_("Wear them as long as on other nights, not longer. Do not nap in them."),
    "disinfect_by_label": N_(
        "Were the lenses in their case for longer than the label says? Clean them and soak them anew before they "
        "go in."
    ),
    "ask_clinic": N_("Ask the practice before the next night."),
}
_A_MONDAY = date(2024, 1, 1)
_MOST_NAMED = 3


# -- a day that matters ----------------------------------------------------------------------------------------
def when_text(phrases: Phrases, day: Mapping[str, Any]) -> str:
    """Say from when to when a day matters."""
    start, end = parse_instant(day["from"]), parse_instant(day["to"])
    begins, ends = phrases.time(start, start.tzinfo), phrases.time(end, end.tzinfo)
    if end.date() != start.date():
        # note: %(day)s is a date with its weekday
        ends = phrases.gettext("%(day)s at %(time)s", day=phrases.day(end.date()), time=ends)
    # note: a date with its weekday, and two times of day: "Sat 7 Nov, 09:00 to 17:00"
    return phrases.gettext("%(day)s, %(start)s to %(end)s", day=phrases.day(start.date()), start=begins, end=ends)


def nights_text(phrases: Phrases, day: Mapping[str, Any]) -> str:
    """Say which nights a day rests on."""
    nights, plan = day["rests_on"], day["plan"]
    if not nights:
        if plan is None:
            return phrases.gettext("Two weeks before, you see here which nights to wear the lenses.")
        return phrases.gettext("No night is left before it. Sight rests on the nights worn so far.")
    named = [phrases.day(date.fromisoformat(night)) for night in nights]
    free = {one["night"] for one in plan["nights"] if not one["planned"]} if plan else set()
    if free & set(nights):
        # note: %(nights)s is a date with its weekday, or a list of such
        return phrases.gettext(
            "The plan leaves the night of %(nights)s free. Ask the practice whether to wear the lenses then.",
            nights=phrases.listing(named),
        )
    # note: %(nights)s is a date with its weekday, or a list of such
    return phrases.gettext("Wear the lenses on the night of %(nights)s.", nights=phrases.listing(named))


def free_text(phrases: Phrases, day: Mapping[str, Any]) -> str | None:
    """Say which night before it may stay free, if there is one."""
    free = day["plan"] and day["plan"]["last_free"]
    if not free:
        return None
    # note: %(night)s is a date with its weekday; “Tonight” is the name of the app's first page
    return phrases.gettext(
        "The night of %(night)s may stay free if “Tonight” says so that evening. It is the last one.",
        night=phrases.day(date.fromisoformat(free)),
    )


def check_texts(phrases: Phrases, day: Mapping[str, Any], on: str | None = None) -> list[str]:
    """Say when to look how sight is; ``on``: only what falls on the date of this instant."""
    said = []
    for one in day["plan"]["checks"] if day["plan"] else ():
        if on is not None and one["at"][:10] != on[:10]:
            continue
        name = phrases.day(parse_instant(one["at"]).date())
        if one["when"] == "evening_before":
            said.append(
                phrases.gettext("Check sight on %(day)s in the evening, before the lenses go in.", day=name)
            )
        else:
            said.append(phrases.gettext("Check sight on %(day)s, once the lenses are out.", day=name))
    return said


def note_texts(phrases: Phrases, day: Mapping[str, Any]) -> list[str]:
    """Say what to mind. Where nothing is worked out: glasses, and that driving is not ours to judge."""
    plan = day["plan"]
    codes = plan["notes"] if plan else ["glasses_at_hand", *(["driving_not_judged"] if day["driving"] else [])]
    return [phrases.say(NOTES[one]) for one in codes if one in NOTES]


def night_rows(phrases: Phrases, day: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return each night until the day with what it is for."""
    rows = []
    for one in day["plan"]["nights"]:
        if one["worn"] and not one["planned"]:
            said = phrases.gettext("free by the plan: ask the practice")
        elif one["worn"]:
            said = phrases.gettext("with lenses")
        elif one["planned"]:
            said = phrases.gettext("may stay free, if “Tonight” says so")
        else:
            said = phrases.gettext("free by the plan")
        rows.append((one["night"], said))
    return rows


# -- sight, hour by hour ---------------------------------------------------------------------------------------
def sight_rows(
    phrases: Phrases, moments: Sequence[Mapping[str, Any]], every: int = 1
) -> list[tuple[str, dict[str, str]]]:
    """Return every n-th moment, and the last, with each eye's sight in words."""
    kept = [one for place, one in enumerate(moments) if place % every == 0 or place == len(moments) - 1]
    return [(one["at"], {eye: _sight(phrases, mine) for eye, mine in one["eyes"].items()}) for one in kept]


def worst_sight(phrases: Phrases, moments: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Return each eye's sight in words at the moment that is hardest."""
    return sight_rows(phrases, [min(moments, key=lambda one: one["meets_target"])])[0][1]


def _sight(phrases: Phrases, outlook: Mapping[str, Any]) -> str:
    spread = outlook["acuity_logmar"]
    return sight_range_text(phrases, spread["p05"], spread["p95"])


# -- after a night off -----------------------------------------------------------------------------------------
def after_texts(phrases: Phrases, missed: Mapping[str, Any], now: datetime) -> list[str]:
    """Say how sight should go today, and from when it should be as usual."""
    until = missed["good_until"]
    if until and parse_instant(until) > now:
        held = holds_until_text(phrases, parse_instant(until), now.astimezone(parse_instant(until).tzinfo))
        # note: %(until)s is "until about 15:00 to 17:00 today" or "for the next hours only"
        said = [phrases.gettext("Sight should be good enough %(until)s.", until=held)]
    else:
        said = [phrases.gettext("Sight may not be good enough today without glasses.")]
    if missed["good_again"] and "wear_tonight" in missed["todo"]:
        night = phrases.day(date.fromisoformat(missed["good_again"]))
        # note: %(night)s is a date with its weekday: the night in lenses after which sight lasts the day again
        said.append(phrases.gettext("It should last the day again after the night of %(night)s.", night=night))
    return said


def todo_texts(phrases: Phrases, missed: Mapping[str, Any]) -> list[str]:
    return [phrases.say(WHAT_TO_DO[one]) for one in missed["todo"]]


# -- the first weeks -------------------------------------------------------------------------------------------
def onset_rows(phrases: Phrases, days: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, str]]:
    """Return after how many nights what morning and evening are like, in words."""
    return [
        (nights_count(phrases, day["night"]), _sight(phrases, day["morning"]), _sight(phrases, day["evening"]))
        for day in days
    ]


def nights_count(phrases: Phrases, nights: int) -> str:
    return phrases.ngettext("%(num)s night", "%(num)s nights", nights)


# -- plans -----------------------------------------------------------------------------------------------------
def weekday_names(phrases: Phrases) -> list[str]:
    """Return the short names of the days, Monday first."""
    return [phrases.short_weekday(_A_MONDAY + timedelta(days=day)) for day in range(len(WEEKDAYS))]


def plan_text(phrases: Phrases, plan: Mapping[str, Any]) -> str:
    """Name a plan by its nights."""
    if plan["every"] is not None:
        return phrases.ngettext("Every %(num)s night", "Every %(num)s nights", plan["every"])
    names = dict(zip(WEEKDAYS, weekday_names(phrases), strict=True))
    worn = [name for day, name in names.items() if day in plan["weekdays"]]
    free = [name for day, name in names.items() if day not in plan["weekdays"]]
    if not free:
        return phrases.gettext("Every night")
    if not worn:
        return phrases.gettext("No night")
    if len(free) <= _MOST_NAMED:
        # note: nights of the week on which lenses are worn: "All nights but Sat and Sun"
        return phrases.gettext("All nights but %(days)s", days=phrases.listing(free))
    # note: nights of the week on which lenses are worn: "Only Mon, Wed and Fri"
    return phrases.gettext("Only %(days)s", days=phrases.listing(worn))


def rhythm_text(phrases: Phrases, plan: Mapping[str, Any]) -> str:
    """Say the chance on each day of a round that is no week: after the night in lenses, then after those off."""
    first, *later = [chance_text(phrases, chance) for chance in plan["chances"]]
    # note: %(plan)s is "Every 3 nights"; the others are chances: "over 95 %", and "80 % and 45 %"
    return phrases.gettext(
        "%(plan)s: %(first)s on the day after the night in lenses, then %(later)s",
        plan=plan_text(phrases, plan),
        first=first,
        later=phrases.listing(later),
    )
