"""What *Tonight* says: one sentence, its reason, one large action. From the use case's view to words; no store."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from companion.common.moments import parse_instant
from companion.phrasebook import forecast_words
from companion.phrasebook import tonight_words as words
from companion.phrasebook.look_words import look_text
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.result_words import news_text, told_lines
from companion.web import band

View = Mapping[str, Any]


@dataclass(frozen=True)
class EyeLine:
    """One eye's answer, for the lines below the sentence."""

    eye: str
    answer: str
    reasons: Sequence[str]


@dataclass(frozen=True)
class TonightPage:
    last_night: str
    """The date of the night just ending, for *none last night*."""
    headline: str
    reason: str
    certainty: str | None
    """How likely sight is to stay good enough if lenses stay out tonight. Not asked once a lens is in."""
    holds_until: str | None
    """Until about when sight should hold, in words."""
    eye_lines: Sequence[EyeLine]
    """Only where the eyes differ."""
    alert_line: str | None
    """What has become of the report that is open."""
    bands: Mapping[str, band.Band]
    rows: Sequence[Mapping[str, Any]] = field(default_factory=tuple)
    """The drawing as a table, in words."""
    forecast_lines: Sequence[str] = ()
    """What the drawing is worth and what it was made from."""
    check_line: str | None = None
    """Asks for a sight check later than now, with its reason."""
    surprise: Surprise | None = None
    look: tuple[str, str] | None = None
    """When to look at the eye again after a report, and that it is time: one of them is shown."""


@dataclass(frozen=True)
class Surprise:
    """Sight that the nights do not explain, and what to do, in order; trouble comes first."""

    heading: str
    trouble: str
    steps: Sequence[str]


def tonight_page(view: View, phrases: Phrases) -> TonightPage:
    answer = view["answer"]
    chance = answer["meets_target"]
    until = answer["holds_until"]
    curve = view["curve"]
    rtl = phrases.language.right_to_left
    return TonightPage(
        last_night=(parse_instant(view["now"]) - timedelta(hours=12)).date().isoformat(),
        headline=_headline(view, phrases),
        reason=_reason(view, phrases),
        certainty=None if chance is None or _lens_in(view) else words.certainty_text(phrases, chance),
        holds_until=until and words.holds_until_text(phrases, parse_instant(until), parse_instant(view["now"])),
        eye_lines=_eye_lines(answer, phrases),
        alert_line=_alert_line(view, phrases),
        bands={eye: band.draw(curve, eye, rtl) for eye in curve["eyes"]} if curve else {},
        rows=_rows(curve, phrases) if curve else (),
        forecast_lines=forecast_words.family_lines(phrases, view["forecast"]) if view["forecast"] else (),
        check_line=_check_line(view["check"], phrases),
        surprise=_surprise(view["surprises"], phrases),
        look=_look(view, phrases),
    )


def _headline(view: View, phrases: Phrases) -> str:
    kind, answer = view["action"]["kind"], view["answer"]["wearer"]
    if answer == "do_not_wear" and kind != "lenses_out":
        return phrases.say(words.ANSWERS[answer])
    if kind == "none" and _lens_in(view) and not view["holds"]:
        return phrases.gettext("Lenses are in. Sleep well.")
    match kind:
        case "lenses_out" if view["hour"] == "morning":
            return phrases.gettext("Good morning. Lenses out.")
        case "lenses_out":
            return phrases.gettext("Time to take the lenses out.")
        case "sight":
            return phrases.gettext("How well do you see without glasses?")
    return phrases.say(words.ANSWERS[answer])


def _reason(view: View, phrases: Phrases) -> str:
    kind, answer = view["action"]["kind"], view["answer"]
    if view["holds"] and all(hold["reason"] == "illness" for hold in view["holds"]):
        return phrases.say(words.ILLNESS_REASON)
    if answer["wearer"] != "do_not_wear":
        if kind == "lenses_out":
            return phrases.gettext("First drops, then blink. Take a lens out only when it moves.")
        if kind == "sight":
            return phrases.say(forecast_words.CHECKS["now", view["check"]["why"]])
        if _lens_in(view) and "write_diary" in view["may"]:
            return phrases.gettext("Tap here in the morning, when they are out.")
    reasons = answer["reasons"] if answer["wearer"] != "per_eye" else ()
    return words.reason_text(phrases, reasons[0]["key"], reasons[0]["values"]) if reasons else ""


def _lens_in(view: View) -> bool:
    return any(one["state"] == "in" for one in view["lens"].values())


def _alert_line(view: View, phrases: Phrases) -> str | None:
    """Say that nobody answers, once that is so; else the last thing that happened, or the first that has not."""
    news = news_text(phrases, view["alert"])
    if news:
        return news
    lines = told_lines(phrases, view["alert"], parse_instant(view["now"])) if view["alert"] else []
    waiting = [said for done, said in lines if not done]
    told = waiting or [said for _, said in lines]
    return told[-1] if told else None


def _look(view: View, phrases: Phrases) -> tuple[str, str] | None:
    if view["look"] is None:
        return None
    now = parse_instant(view["now"])
    wait, due = (look_text(phrases, {**view["look"], "due": over}, now) for over in (False, True))
    return wait, due


def _check_line(check: Mapping[str, str] | None, phrases: Phrases) -> str | None:
    if check is None or check["when"] == "now":
        return None
    return phrases.say(forecast_words.CHECKS[check["when"], check["why"]])


def _surprise(eyes: Sequence[Mapping[str, Any]], phrases: Phrases) -> Surprise | None:
    if not eyes:
        return None
    steps = ["marks", "swapped"] if any(one["perhaps_swapped"] for one in eyes) else ["marks"]
    said = forecast_words.SURPRISE_STEPS
    return Surprise(
        heading=phrases.say(forecast_words.SURPRISE["both" if len(eyes) == 2 else eyes[0]["eye"]]),
        trouble=phrases.say(said["trouble"]),
        steps=[phrases.say(said[one]) for one in (*steps, "tell")],
    )


def _eye_lines(answer: Mapping[str, Any], phrases: Phrases) -> list[EyeLine]:
    if answer["wearer"] != "per_eye":
        return []
    return [
        EyeLine(
            eye,
            phrases.say(words.EYE_ANSWERS[one["answer"]]),
            [words.reason_text(phrases, reason["key"], reason["values"]) for reason in one["reasons"]],
        )
        for eye, one in answer["eyes"].items()
    ]


def _rows(curve: Mapping[str, Any], phrases: Phrases) -> list[dict[str, Any]]:
    return [
        {
            "at": row["at"],
            "eyes": {
                eye: words.sight_range_text(phrases, spread["p05"], spread["p95"])
                for eye, spread in row["eyes"].items()
            },
        }
        for row in band.table(curve)
    ]
