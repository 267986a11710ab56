"""What a report's page says: whether anybody is on duty, who was told, what became of it, whom to call.

Owns the sentences around a triage result; the result's own words are in ``triage_words``. The first sentence is
always the truth about *now*.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from companion.common.moments import parse_instant
from companion.phrasebook.marks import N_
from companion.phrasebook.phrases import Phrases

ON_DUTY: Mapping[int, str] = {
    5: N_("Go now. Do not wait for %(practice)s to call."),
    4: N_("Call %(practice)s now. They are open."),
    3: N_("Call %(practice)s and book a check. They are open now."),
    2: N_("%(practice)s is open and will look at this."),
    1: N_("From your answers, this does not look urgent."),
}
OFF_DUTY: Mapping[int, str] = {
    # note: %(time)s may hold a day: "08:30", "tomorrow at 08:30".
    5: N_("Nobody at %(practice)s will see this before %(time)s. Go now."),
    4: N_("Nobody at %(practice)s will see this before %(time)s. Go now."),
    3: N_("Nobody at %(practice)s will see this before %(time)s. Call them then. Worse? Go at once."),
    2: N_("Nobody at %(practice)s will see this before %(time)s."),
    1: N_("From your answers, this does not look urgent."),
}
ON_CALL: Mapping[int, str] = {
    # note: The practice is shut, but somebody there is on call: their phone is answered.
    5: N_("Go now. Do not wait for %(practice)s to call."),
    4: N_("Call %(practice)s now. Somebody is on call."),
    3: N_("Call %(practice)s now. Somebody is on call and can say when to come."),
    2: N_("%(practice)s will look at this when they are open."),
    1: N_("From your answers, this does not look urgent."),
}
NO_HOURS: Mapping[int, str] = {
    # note: The practice is closed and nobody knows until when.
    5: N_("Nobody at %(practice)s sees this now. Go now."),
    4: N_("Nobody at %(practice)s sees this now. Go now."),
    3: N_("Nobody at %(practice)s sees this now. Call any eye clinic."),
    2: N_("Nobody at %(practice)s sees this now."),
    1: N_("From your answers, this does not look urgent."),
}
NOT_TOLD: Mapping[int, str] = {
    5: N_("Your practice has NOT been told. Go now."),
    4: N_("Your practice has NOT been told. Phone them now. Are they closed? Then go."),
    3: N_("Your practice has NOT been told. Phone them and book a check."),
    2: N_("Your practice has NOT been told. Phone them."),
    1: N_("From your answers, this does not look urgent. Your practice has NOT been told."),
}
DUTY: Mapping[str, str] = {
    # note: After something that comes first, such as rinsing; only says who is there.
    "on": N_("%(practice)s is open now."),
    "on_call": N_("%(practice)s is shut. Somebody is on call."),
    "off": N_("Nobody at %(practice)s will see this before %(time)s."),
    "no_hours": N_("Nobody at %(practice)s sees this now."),
    "not_told": N_("Your practice has NOT been told."),
}

OUTCOMES: Mapping[str, str] = {
    "seen_here": N_("The practice has seen the eye and closed this report."),
    "sent_to_emergency": N_(
        "The practice sent you to an emergency department or eye clinic and closed this report."
    ),
    "advice_given": N_("The practice gave advice and closed this report."),
    "no_fault_found": N_("The practice looked at the eye, found nothing, and closed this report."),
    "could_not_reach": N_("The practice could not reach you and closed this report. Call them."),
}


NEWS: Mapping[str, str] = {
    # note: What the family is told when nobody answers a report.
    "alerts_off": N_("This app has NOT told the practice. Phone them, or go to an eye clinic."),
    "nobody_to_tell": N_("This app could reach nobody at the practice. Phone them, or go to an eye clinic."),
    "nobody_took_it": N_("Nobody at the practice has answered. Do not wait. Phone them, or go to an eye clinic."),
    "no_contact_yet": N_("The practice has this report but has not reached you. Phone them. Do not wait."),
}

WORD: Mapping[str, str] = {
    # note: No word has come from the family since their report, so it counts as still there.
    "asked": N_("How is the eye now? Answer the questions again."),
    "still_there": N_("No word came since. This counts as still there. Answer the questions again."),
    "more_urgent": N_(
        "No word came since. This counts as still there, and it is more urgent now. Read what to do. "
        "Then answer the questions again."
    ),
    # note: The practice's computer judged the same answers as more urgent than the phone had by itself.
    "judged_higher": N_("This is more urgent than this phone said at first. Read what to do now."),
}

FIRST_DEEDS: Mapping[str, str] = {
    # note: Said first of all where it applies: these come even before going anywhere. Keys are advice keys.
    "follow_call_taker": N_("Call the emergency number now."),
    "ambulance_first": N_("Call the emergency number now."),
    "rinse_now": N_("Rinse the eye now, for at least 20 minutes. Tap water is right for this."),
}


def first_line(phrases: Phrases, level: int, practice: Mapping[str, Any] | None, now: datetime) -> str:
    """Say what to do and whether anybody at the practice is there; or that nobody was told, where that is so."""
    tables = {"on": ON_DUTY, "on_call": ON_CALL, "off": OFF_DUTY, "no_hours": NO_HOURS, "not_told": NOT_TOLD}
    duty, values = _duty(phrases, practice, now)
    return phrases.say(tables[duty][level], **values)


def duty_line(phrases: Phrases, practice: Mapping[str, Any] | None, now: datetime) -> str:
    """Say only whether anybody at the practice is there, or that nobody was told."""
    duty, values = _duty(phrases, practice, now)
    return phrases.say(DUTY[duty], **values)


def _duty(phrases: Phrases, practice: Mapping[str, Any] | None, now: datetime) -> tuple[str, dict[str, str]]:
    if practice is None or not practice["alerts_on"]:
        return "not_told", {}
    name = {"practice": practice["name"]}
    if practice["on_duty"]:
        return "on_call" if practice["on_call"] else "on", name
    if not practice["opens_at"]:
        return "no_hours", name
    return "off", {**name, "time": time_and_day(phrases, practice["opens_at"], now)}


def time_and_day(phrases: Phrases, moment: str, now: datetime) -> str:
    """Say a time; with its day where that is not today."""
    when = parse_instant(moment)
    apart = (when.date() - now.astimezone(when.tzinfo).date()).days
    clock = phrases.time(when, when.tzinfo)
    match apart:
        case 0:
            return clock
        case 1:
            return phrases.gettext("tomorrow at %(time)s", time=clock)
        case -1:
            return phrases.gettext("yesterday at %(time)s", time=clock)
    # note: %(day)s is a date with its weekday
    return phrases.gettext("%(day)s at %(time)s", day=phrases.day(when.date()), time=clock)


def news_text(phrases: Phrases, alert: Mapping[str, Any] | None) -> str | None:
    """Say that nobody answers, once that is so; and that no word came from the family, or that it is asked for."""
    if alert is None:
        return None
    word, news = alert.get("word"), alert.get("news")
    said = [phrases.say(WORD[word])] if word else []
    said += [phrases.say(NEWS[news])] if news else []
    return " ".join(said) or None


def told_lines(phrases: Phrases, alert: Mapping[str, Any] | None, now: datetime) -> list[tuple[bool, str]]:
    """Say who has been told and what they have done: each line with whether it has happened."""
    if alert is None:
        return [(True, phrases.gettext("This is in the diary. Nobody was called."))]

    def at(moment: str) -> str:
        return time_and_day(phrases, moment, now)

    lines = [_step(phrases, step, at(step["at"])) for step in alert["steps"]]
    if not lines:
        lines.append((True, phrases.gettext("It is on the practice's list. Nobody was sent a message.")))
    if alert["taken_at"]:
        values = {"who": alert["taken_by"], "time": at(alert["taken_at"])}
        lines.append((True, phrases.gettext("%(who)s at the practice has taken it: %(time)s.", **values)))
    elif not alert["closed_at"]:
        lines.append((False, phrases.gettext("Nobody at the practice has taken it yet.")))
    if alert["contact_at"]:
        lines.append((True, phrases.gettext("The practice reached you: %(time)s.", time=at(alert["contact_at"]))))
    elif alert["taken_at"] and not alert["closed_at"]:
        lines.append((False, phrases.gettext("The practice has not reached you yet.")))
    if alert["closed_at"]:
        lines.append((True, phrases.say(OUTCOMES[alert["outcome"]])))
    return lines


def _step(phrases: Phrases, step: Mapping[str, Any], time: str) -> tuple[bool, str]:
    values = {"who": step["person"], "time": time}
    match step["state"]:
        case "queued":
            return False, phrases.gettext("A message to %(who)s waits to be sent. We keep trying.", **values)
        case "failed":
            return False, phrases.gettext("A message to %(who)s did not get through.", **values)
    return True, phrases.gettext("A message was sent to %(who)s: %(time)s.", **values)
