"""What the practice's templates may say beside the house's words: levels, reasons, lens data, answers as rows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date
from typing import Any

from markupsafe import Markup

from companion.access import Action, may
from companion.common.eyes import Eye
from companion.common.moments import parse_instant
from companion.phrasebook import alert_words, forecast_words
from companion.phrasebook import desk_words as words
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.marks import InContext
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.tonight_words import SIGHT, reason_text
from companion.phrasebook.triage_advice import WHY
from companion.phrasebook.triage_words import LEVELS, advice_text, lens_text, option_text, question_text
from companion.triage.answers import PARTS
from companion.triage.rules import load_rules
from companion.usecases.invitations import FAMILY_KINDS
from companion.usecases.prescribing import REFRACTION_KINDS, VISIT_KINDS
from companion.web import band, context


def desk_words() -> dict[str, Any]:
    """What every template of the practice gets."""
    return {
        "words": words,
        "alert_words": alert_words,
        "manages": {action.value for action in Action if (who := context.visitor()) and may(who.roles, action)},
        "levels": LEVELS,
        "why": WHY,
        "sights": SIGHT,
        "language_names": {tag: one.own_name for tag, one in LANGUAGES.items()},
        "outcomes": [(key, context.phrases().say(said)) for key, said in words.OUTCOMES.items()],
        "lens_words": lambda instruction, eye: lens_text(context.phrases(), instruction, Eye(eye)),
        "advice_words": advice_words,
        "reason_words": lambda one: reason_text(context.phrases(), one["key"], one["values"]),
        **_forecast_words(),
        "next_steps": [(key, context.phrases().say(said)) for key, said in words.NEXT_STEPS.items()],
        "eyes_first": eyes_first,
        "measure": measure,
        "dioptres": dioptres,
        "mm": mm,
        "month_words": lambda day: context.phrases().month(date.fromisoformat(day)),
        "long_day": lambda day: context.phrases().long_day(date.fromisoformat(day)),
    }


def _forecast_words() -> dict[str, Any]:
    """What is said of a forecast itself."""
    phrases = context.phrases()
    return {
        "chance_words": lambda chance: forecast_words.chance_text(phrases, chance),
        "own_words": lambda learned: forecast_words.own_text(phrases, learned),
        "used_words": lambda checks, refractions: forecast_words.used_text(phrases, checks, refractions),
        "record_words": lambda inside, of: forecast_words.record_text(phrases, inside, of),
        "surprise_words": lambda one: forecast_words.surprise_text(phrases, one),
        "surprise_details": lambda one: forecast_words.surprise_details(phrases, one),
        "warning_words": lambda one: forecast_words.warning_text(phrases, one["key"], one["values"]),
        "fell_back": forecast_words.FELL_BACK,
    }


def now_as(instant: str | None) -> str:
    """Write this request's moment with the offset that ``instant`` is written in."""
    where = parse_instant(instant).tzinfo if instant else UTC
    return context.now().astimezone(where).isoformat(timespec="seconds")


def advice_words(advice: Mapping[str, Any]) -> str:
    return advice_text(context.phrases(), advice["key"], tuple(Eye(eye) for eye in advice.get("eyes", ())))


def measure(value: float | None, unit: str = "", pattern: str = "0.00") -> Markup:
    """Say a measured value. Kept from left to right, so that no sign moves to the other side of its number."""
    if value is None:
        return Markup()
    said = f"{context.phrases().number(value, pattern)} {unit}".strip()
    return Markup('<bdi dir="ltr">{}</bdi>').format(said)


def dioptres(value: float | None) -> Markup:
    """Say dioptres, always signed: ``+0.50 D``."""
    return measure(value, "D", "+0.00;-0.00")


def mm(value: float | None) -> Markup:
    return measure(value, "mm")


def kinds_of(sheet: str) -> list[tuple[str, str]]:
    """Return the kinds that a form offers, with their words."""
    offered: dict[str, tuple[Iterable[str], Mapping[str, InContext]]] = {
        "refraction": (REFRACTION_KINDS, words.REFRACTION_KINDS),
        "visit": (VISIT_KINDS, words.VISIT_KINDS),
        "invite": (FAMILY_KINDS, words.INVITATION_KINDS),
    }
    kinds, said = offered.get(sheet, ((), {}))
    return [(str(kind), context.phrases().say(said[kind])) for kind in kinds]


def curve_painted(curve: Mapping[str, Any] | None) -> dict[str, Any]:
    """Return the family's drawing of each eye, and the same in numbers."""
    if curve is None:
        return {"drawings": {}, "curve_rows": []}
    right_to_left = context.phrases().language.right_to_left
    drawings = {eye: band.draw(curve, eye, right_to_left) for eye in curve["eyes"]}
    return {
        # Many days on one sheet: every second one is named.
        "drawings": {
            eye: replace(one, days=one.days[::2]) if len(one.days) > 4 else one for eye, one in drawings.items()
        },
        "curve_rows": band.table(curve),
    }


def answer_rows(
    answers: Mapping[str, Mapping[str, str]], deciding: Collection[str] = ()
) -> list[dict[str, Any]]:
    """Return the answers of a report as rows, the worst first: what the deciding rules rest on, then the others by
    how bad the answer is. ``matters`` marks an answer that is not the question's best one."""
    phrases, rules, rows = context.phrases(), load_rules(), []
    asked = frozenset().union(*(rule.when.questions for rule in rules.rules if rule.id in deciding))
    for id_, question in rules.questions.items():
        row: dict[str, Any] = {"question": question_text(phrases, id_)}
        worst = 0.0
        for part in PARTS:
            answer = answers.get(part, {}).get(id_)
            rank = 0 if answer is None else question.rank(answer)
            row[part] = None if answer is None else option_text(phrases, id_, answer)
            row[f"{part}_matters"] = rank > 0
            worst = max(worst, rank / (len(question.options) - 1))
        row["matters"] = worst > 0
        if any(row[part] is not None for part in PARTS):
            rows.append((not (worst and id_ in asked), -worst, row))
    return [row for _, _, row in sorted(rows, key=lambda one: one[:2])]


def eyes_first(levels: Mapping[str, int]) -> list[str]:
    """Return both eyes, the one that a report is more about first."""
    return sorted(("right", "left"), key=lambda eye: -levels[eye])


def news_painted(alerts: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return what a script says, counts and sounds of the alerts that were sent to people."""
    phrases = context.phrases()
    unanswered = sum(one["unanswered"] for one in alerts)
    return {
        "waiting": phrases.number(unanswered) if unanswered else "",
        "alerts": [
            {
                "id": one["id"],
                "level": one["level"],
                "taken": one["taken"],
                "rings": one["rings"],
                "said": _said(phrases, one),
            }
            for one in alerts
        ],
    }


def _said(phrases: Phrases, alert: Mapping[str, Any]) -> str:
    """Say an alert in a line, for ears and for a strip above another page."""
    level = phrases.gettext("Level %(level)s:", level=phrases.number(alert["level"]))
    word, eyes = phrases.say(LEVELS[alert["level"]].word), alert["eyes"]
    alike = eyes["right"] == eyes["left"]
    eye = phrases.say(words.EYES["both" if alike else eyes_first(eyes)[0]])
    # note: %(urgency)s is "Level 4: Be seen today", %(eye)s is "right eye" or "both eyes"
    return phrases.gettext(
        "New: %(urgency)s. %(name)s, %(eye)s", urgency=f"{level} {word}", name=alert["wearer"]["name"], eye=eye
    )
