"""The words that scripts say, one table a language: the very sentences of the server's pages, and the phone's own.

A key is the table and the code (``reason.not_cleared``). Sentences that stand in a page's template are marked here
once more, in the same words: a test finds those that their template no longer says. Values stay as ``%(name)s``
and the per cent sign as ``%%``, as in the catalogue; plurals come by CLDR's category.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import Enum
from typing import Any

from babel import Locale

from companion.phrasebook import (
    account_words,
    diary_words,
    emergency_words,
    forecast_words,
    look_words,
    message_words,
    phone_words,
    result_words,
    script_pages,
    script_triage,
    tonight_words,
    triage_advice,
    triage_questions,
    triage_words,
)
from companion.phrasebook.languages import Language
from companion.phrasebook.marks import N_, NN_, InContext, Plural
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.safety_text import Sentence, sentences, speech_of

Marked = str | InContext | Plural

SCREEN: Mapping[str, Marked] = {
    # -- around every page
    "app": N_("The companion"),
    "around": N_("Ways round"),
    "place_tonight": N_("Tonight"),
    "place_diary": N_("Diary"),
    "place_care": N_("Care"),
    "place_us": N_("Us"),
    "something_wrong": N_("Something is wrong"),
    "sign_in": N_("Sign in"),
    "saved": N_("Saved."),
    "save": N_("Save"),
    "today": N_("today"),
    "tomorrow": N_("tomorrow"),
    "yesterday": N_("yesterday"),
    "tomorrow_at": N_("tomorrow at %(time)s"),
    "yesterday_at": N_("yesterday at %(time)s"),
    "day_at": N_("%(day)s at %(time)s"),
    "call": N_("Call %(practice)s"),
    "call_number": N_("Call %(number)s"),
    "they_open": N_("They open %(time)s."),
    "others": N_("Others"),
    "whose": N_("Whose lenses?"),
    "level": N_("Level %(level)s:"),
    # -- Tonight
    "night_number": N_("night %(number)s"),
    "sleep_well": N_("Lenses are in. Sleep well."),
    "morning": N_("Good morning. Lenses out."),
    "time_out": N_("Time to take the lenses out."),
    "ask_sight": N_("How well do you see without glasses?"),
    "drops_first": N_("First drops, then blink. Take a lens out only when it moves."),
    "tap_in_morning": N_("Tap here in the morning, when they are out."),
    "undo": N_("Undo: %(what)s, %(time)s"),
    "say_sight": N_("Say how sight is"),
    "log_else": N_("Log something else"),
    "see_report": N_("See what to do, and who has been told"),
    "about_other": N_("This was about %(name)s"),
    "lens_in": N_("A lens is in, as was last said."),
    "lens_out": N_("No lens is in, as was last said."),
    "lens_unknown": N_("Not said yet."),
    "care_steps": N_("The care steps"),
    "look_at_night": N_("Look at this night"),
    "days_that_matter": N_("Days that matter"),
    "first_weeks": N_("The first weeks"),
    "handover": N_("Your practice offers a change of who sees what."),
    "read_it": N_("Read it"),
    # -- the taps
    "lenses_in_now": N_("Lenses in now"),
    "lenses_out_now": N_("Lenses out now"),
    "right_in_now": N_("Right lens in now"),
    "left_in_now": N_("Left lens in now"),
    "right_out_now": N_("Right lens out now"),
    "left_out_now": N_("Left lens out now"),
    "one_eye": N_("One eye only"),
    "right_only": N_("Right eye only"),
    "left_only": N_("Left eye only"),
    "earlier": N_("Earlier"),
    "minutes_ago": NN_("%(num)s minute ago", "%(num)s minutes ago"),
    "hours_ago": NN_("%(num)s hour ago", "%(num)s hours ago"),
    "or_at": N_("Or at this time, within the last day"),
    "save_time": N_("Save this time"),
    "not_tonight": N_("Not tonight"),
    "none_last_night": N_("None last night"),
    "untold": NN_(
        "%(num)s night since %(day)s is not in the diary.", "%(num)s nights since %(day)s are not in the diary."
    ),
    "as_planned_asked": N_("Did they go as planned?"),
    "as_planned": N_("All as planned"),
    "not_all": N_("Not all of them"),
    # -- how sight was, and should hold
    "sight_now": N_("How is sight now, without glasses?"),
    "cover_eye": N_("Cover the left eye with a hand, look far away. Then change over. No pressing."),
    "sight_wrong": N_("Not clear, with a red, sore or light-shy eye? Tap “Something is wrong”."),
    "sight_lasts": N_("How long sight should last"),
    "good_until": N_("Without another night in lenses: good enough %(until)s."),
    "good_unsure": N_("Without another night in lenses: not sure to be good enough."),
    "until_today": N_("until about %(early)s to %(late)s today"),
    "until_tomorrow": N_("until about %(early)s to %(late)s tomorrow"),
    "until_day": N_("until about %(early)s to %(late)s on %(day)s"),
    "next_hours": N_("for the next hours only"),
    "better_to_worse": N_("%(better)s to %(worse)s"),
    "out_tonight": N_("Lenses out tonight: good enough until %(time)s?"),
    "nothing_drawn": N_(
        "There is nothing to draw yet. The practice adds the first measurement, and nights and checks do the rest."
    ),
    "band_read": N_(
        "The line is the middle, the band is where sight is very likely to be. Shaded: nights with lenses. Dots: "
        "your checks."
    ),
    "band_label": N_("%(eye)s: how sight should hold. The table below says the same in words."),
    "now": N_("now"),
    "good_enough": N_("good enough"),
    "as_table": N_("The same as a table"),
    "table_of": N_("How well each eye should see without glasses, if no lens goes in"),
    "when": N_("When"),
    "long_break": NN_(
        "It has been %(num)s night without lenses. The practice will say how to start again.",
        "It has been %(num)s nights without lenses. The practice will say how to start again.",
    ),
    "forecast_record": NN_(
        "%(inside)s of the last %(num)s check came out as expected.",
        "%(inside)s of the last %(num)s checks came out as expected.",
    ),
    "sight_checks": NN_("%(num)s sight check", "%(num)s sight checks"),
    "measurements": NN_("%(num)s measurement at the practice", "%(num)s measurements at the practice"),
    "made_from": N_("Made from %(checks)s."),
    "made_from_both": N_("Made from %(checks)s and %(measurements)s."),
    "forecast_kept": N_("This is %(age)s old. A new one can't be worked out right now, so it frees no night."),
    # -- the diary
    "planned_all": N_("From %(since)s to %(until)s all as planned"),
    "planned_except": N_("From %(since)s to %(until)s as planned, except %(nights)s"),
    # -- a report
    "which_page": N_("Page %(number)s of %(count)s"),
    "next": N_("Next"),
    "back": N_("Back"),
    "show_what": N_("Show what to do"),
    "what_to_do": N_("What to do"),
    "why": N_("Why"),
    "one_more_tap": N_("One more tap is needed"),
    "each_question": N_("Each question on this page needs an answer. What you tapped is still here."),
    "emergency_advice": N_("Emergency advice"),
    "advice_right": N_("Right eye: %(advice)s"),
    "advice_left": N_("Left eye: %(advice)s"),
    "nobody_called": N_("This is in the diary. Nobody was called."),
    "on_list": N_("It is on the practice's list. Nobody was sent a message."),
    "taken": N_("%(who)s at the practice has taken it: %(time)s."),
    "not_taken": N_("Nobody at the practice has taken it yet."),
    "reached": N_("The practice reached you: %(time)s."),
    "not_reached": N_("The practice has not reached you yet."),
    "message_waits": N_("A message to %(who)s waits to be sent. We keep trying."),
    "message_failed": N_("A message to %(who)s did not get through."),
    "message_sent": N_("A message was sent to %(who)s: %(time)s."),
}

TABLES: Mapping[str, Mapping[Any, Any]] = {
    "say": SCREEN,
    "answer": tonight_words.ANSWERS,
    "eye_answer": tonight_words.EYE_ANSWERS,
    "reason": {**tonight_words.REASONS, "illness": tonight_words.ILLNESS_REASON},
    "certainty": {round(100 * least): said for least, said in tonight_words.CERTAINTY},
    "sight": tonight_words.SIGHT,
    "sight_hint": tonight_words.SIGHT_HINTS,
    "eyes": tonight_words.EYES,
    "forecast": {
        "mostly_population": forecast_words.MOSTLY_POPULATION,
        "old_checks": forecast_words.OLD_CHECKS,
        "none": forecast_words.NO_FORECAST,
    },
    "check": forecast_words.CHECKS,
    "surprise": forecast_words.SURPRISE,
    "surprise_step": forecast_words.SURPRISE_STEPS,
    "kind": {**diary_words.KINDS, **diary_words.TAPS, "other": phone_words.OTHER},
    "night": diary_words.NIGHT_STATES,
    "source": diary_words.NIGHT_SOURCES,
    "no_lenses": diary_words.NO_LENSES,
    "sight_said": diary_words.SIGHT_SAID,
    "sight_read": diary_words.SIGHT_READ,
    "oddity": diary_words.ODDITIES,
    "mark": account_words.MARKS,
    "emergency": emergency_words.FIRST,
    "go": emergency_words.GO,
    "eye_asked": emergency_words.EYE_ASKED,
    "emergency_call": {
        "local": emergency_words.LOCAL_NUMBER,
        "limits": emergency_words.LIMITS,
        "moved": emergency_words.MOVED,
    },
    "page": triage_questions.PAGES,
    "intro": triage_words.INTRODUCTIONS,
    "question": triage_questions.QUESTIONS,
    "hint": triage_questions.HINTS,
    "picture": triage_questions.PICTURES,
    "picture_in_words": triage_questions.PICTURES_IN_WORDS,
    "option": triage_questions.OPTIONS,
    "option_unsure": {"": triage_questions.UNSURE_WORD},
    "urgency": {level: words.word for level, words in triage_words.LEVELS.items()},
    "why": triage_advice.WHY,
    "lens": triage_advice.LENS,
    "advice": triage_advice.ADVICE,
    "on_duty": result_words.ON_DUTY,
    "on_call": result_words.ON_CALL,
    "off_duty": result_words.OFF_DUTY,
    "no_hours": result_words.NO_HOURS,
    "not_told": result_words.NOT_TOLD,
    "duty": result_words.DUTY,
    "outcome": result_words.OUTCOMES,
    "news": result_words.NEWS,
    "word": result_words.WORD,
    "look": {**look_words.LOOK, **look_words.LEFT},
    "ask": look_words.ASK,
    "first_deed": result_words.FIRST_DEEDS,
    "message": message_words.WORDS,
    "helper": message_words.HELPER,
    "phone": phone_words.PHONE,
    "notice": phone_words.NOTICE,
    "offline": phone_words.OFFLINE,
    "tapped": phone_words.TAPPED,
    "leaving": phone_words.LEAVING,
    "lock": phone_words.LOCK,
    "keeping": phone_words.KEEPING,
    **script_triage.TABLES,
}

CATEGORIES = ("zero", "one", "two", "few", "many", "other")
SAMPLES = (*range(200), 1000, 1_000_000)
"""Whole numbers among which every category of a language has one, where whole numbers have that category."""


def marked_words(tables: Mapping[str, Mapping[Any, Any]] = TABLES) -> Mapping[str, Marked]:
    """Return every sentence by its key, still to be said."""
    return dict(one for name, table in tables.items() for one in _flat(name, table))


def words_of(language: Language) -> dict[str, Any]:
    """Return all that a script needs to speak ``language``, as JSON has it."""
    phrases = Phrases(language)
    samples = _samples(phrases.locale)
    return {
        "tag": language.tag,
        "locale": language.locale.replace("_", "-"),
        "dir": "rtl" if language.right_to_left else "ltr",
        "digits": phrases.numbering,
        "plural": list(samples),
        # How a stranger is spoken to; families as their practice has it, which each sync says.
        "speech": speech_of(language, signed=False, demo=True),
        **_said_all(phrases, marked_words(), samples),
    }


def more_words_of(language: Language) -> dict[str, Any]:
    """Return what the pages beside *Tonight* say as well: a file of its own, that *Tonight* need not wait for."""
    phrases = Phrases(language)
    return _said_all(phrases, marked_words(script_pages.TABLES), _samples(phrases.locale))


def _said_all(phrases: Phrases, marked: Mapping[str, Marked], samples: Mapping[str, int]) -> dict[str, Any]:
    vital = set(sentences())
    return {
        "safety": [key for key, said in marked.items() if _sentence(said) in vital],
        "words": {key: _said(phrases, said, samples) for key, said in marked.items()},
    }


def _flat(name: str, table: Mapping[Any, Any]) -> Iterator[tuple[str, Marked]]:
    for code, said in table.items():
        parts = code if isinstance(code, tuple) else (code,)
        key = ".".join([name, *(str(one.value if isinstance(one, Enum) else one) for one in parts)]).rstrip(".")
        if isinstance(said, Mapping):
            yield from _flat(key, said)
        else:
            yield key, said


def _sentence(said: Marked) -> Sentence:
    """Return a sentence as the safety text names it."""
    if isinstance(said, Plural):
        return Sentence(None, said.plural)
    return Sentence(said.context, said.text) if isinstance(said, InContext) else Sentence(None, said)


def _samples(locale: Locale) -> dict[str, int]:
    """Return for each plural category of a language, in CLDR's order, a number that has it."""
    rule = locale.plural_form
    found = {rule(n): n for n in reversed(SAMPLES)}
    # A category that only fractions have (as in Polish) says what the largest numbers say.
    return {one: found.get(one, SAMPLES[-1]) for one in CATEGORIES if one in rule.tags or one == "other"}


def _said(phrases: Phrases, said: Marked, samples: Mapping[str, int]) -> str | dict[str, str]:
    if isinstance(said, Plural):
        return {
            category: phrases.sentence(said.singular, plural=said.plural, num=n) for category, n in samples.items()
        }
    if isinstance(said, InContext):
        return phrases.sentence(said.text, said.context)
    return phrases.sentence(said)
