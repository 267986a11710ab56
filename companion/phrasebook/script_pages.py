"""What scripts say on the pages beside *Tonight*: sight, the diary, lens care, days that matter.

A file of words of its own, since *Tonight* has to be there before it. Sentences that stand in a page's template
are marked here once more, in the same words, as ``script_words`` has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from companion.phrasebook import (
    ahead_words,
    care_words,
    handling_words,
    problems_diary,
    problems_forms,
    red_flags,
    young_words,
)
from companion.phrasebook.marks import N_, NN_, InContext, Plural

Said = str | InContext | Plural

PAGES: Mapping[str, Said] = {
    # -- forms
    "look_again": N_("Please look at this once more"),
    "still_here": N_("What you typed is still here."),
    "earlier_today": N_("It was earlier today"),
    "within_day": N_("At this time, within the last day"),
    "it_was_earlier": N_("It was earlier"),
    # -- sight
    "how_is_sight": N_("How is sight?"),
    "read_chart": N_("I read a chart"),
    "chart_how": N_(
        "Write the number of the smallest line that was read, in logMAR, and how far away the chart was."
    ),
    "right_logmar": N_("Right eye, logMAR"),
    "left_logmar": N_("Left eye, logMAR"),
    "distance": N_("Distance in metres"),
    # -- the diary
    "planned_form": N_("All as planned …"),
    "write_note": N_("Write a note"),
    "tonight": N_("tonight"),
    "free_by_plan": N_("free by plan"),
    "hours_short": N_("%(hours)s h"),
    "notes": NN_("%(num)s note", "%(num)s notes"),
    "please_look": N_("Please look"),
    "summary": N_("The last 14 nights: %(worn)s worn, %(not_worn)s not worn, %(unknown)s not known."),
    "earlier_nights": N_("Earlier nights"),
    "note_for": N_("For yourselves and for the next check. The practice does not read notes every day."),
    "note_wrong": N_("Trouble with an eye? Tap “Something is wrong”."),
    "note": N_("Note"),
    # -- one night
    "night_of": N_("Night of %(day)s"),
    "hours": N_("%(hours)s hours"),
    "plan_leaves_free": N_("The plan leaves this night free."),
    "what_was_said": N_("What was said"),
    "changed": N_("changed"),
    "open_report": N_("Open the report"),
    "change": N_("Change"),
    "which_eye": N_("Which eye"),
    "how_was_sight": N_("How was sight?"),
    "read_off": N_("Read off the chart, logMAR"),
    "first_night": N_("First night"),
    "last_night": N_("Last night"),
    "day": N_("Day"),
    "time": N_("Time"),
    "like_this": N_("It was like this"),
    "take_back": N_("Take it back"),
    "nothing_said": N_("Nothing was said of this night. That is fine: it counts as not known."),
    "add_to_night": N_("Add to this night"),
    "what_happened": N_("What happened?"),
    "in": N_("Lenses in"),
    "out": N_("Lenses out"),
    "none": N_("No lenses this night"),
    "at_what_time": N_("At what time?"),
    "which_day": N_(
        "From noon on: %(day)s. Before noon: %(next)s. Not needed for a night without lenses."
    ),
    "all_nights": N_("All nights"),
    # -- lens care
    "in_steps": N_("Lenses in, step by step."),
    "out_steps": N_("Lenses out, step by step."),
    "no_system": N_(
        "The practice has not said yet which lens fluids you use. Here are only the steps that hold for all of "
        "them. Ask the practice for the others."
    ),
    "after_a_break": NN_(
        "Not worn for more than %(num)s day? Clean the lens and soak it again first.",
        "Not worn for more than %(num)s days? Clean the lens and soak it again first.",
    ),
    "soaked_long_enough": NN_(
        "Look at the time. The lenses must have been in peroxide for %(num)s hour or more.",
        "Look at the time. The lenses must have been in peroxide for %(num)s hours or more.",
    ),
    "shown_otherwise": N_(
        "Did the practice show you something else? Then do as they showed you, and tell them."
    ),
    "help": N_("Help with a lens"),
    "to_change": N_("What to change, and when"),
    "since": N_("Since %(day)s"),
    "done": N_("Done"),
    "new": N_("New"),
    "another_bottle": N_("Another bottle"),
    "label_counts": N_("The label may say less than the practice. Then the label counts."),
    "back_to_care": N_("Back to care"),
    # -- the clock of the peroxide
    "soak_ready_at": N_("Peroxide: ready at %(time)s"),
    "soak_waits": N_(
        "In peroxide since %(time)s. Do not wear a lens before its time: it would burn the eye."
    ),
    "soak_was_up": N_("Peroxide: its time was up at %(time)s"),
    "soak_rinse": N_("Rinse each lens with sterile saline before it goes in."),
    "soak_again": N_("Soak them again first"),
    "soak_long": N_(
        "In peroxide since %(time)s. That is long. Clean the lenses and put them in fresh peroxide before wearing."
    ),
    "soak_none": N_("Peroxide: no time written down"),
    "soak_hours": NN_(
        "Lenses need %(num)s hour in it. Not sure when they went in? Leave them out and soak them anew.",
        "Lenses need %(num)s hours in it. Not sure when they went in? Leave them out and soak them anew.",
    ),
    "soak_now": N_("In fresh peroxide now"),
    # -- help with a lens
    "yes_first": N_("Yes: emergency advice first"),
    "yes": N_("Yes:"),
    "yes_which": N_("Yes: tell us which eye. A few questions follow, then what to do."),
    "stuck_since": N_("Since %(time)s."),
    "see_what_to_do": N_("See what to do"),
    "stuck_long": N_(
        "It has been stuck for 30 minutes or more. Use no suction cup and no fingernail. Tell us now: a few "
        "questions, then what to do."
    ),
    "report_now": N_("Report it now"),
    "free_look": N_("It is free. Look at the eye now."),
    "not_wait": N_("Do not wait for that if it is still stuck at the time below."),
    "stuck_from": N_("Stuck since"),
    "stuck_call_at": N_("Still stuck then: call the practice"),
    "stuck_report_at": N_("Still stuck then: report it, you need help today"),
    "look_at_time": N_("Look at the time again"),
    "free_now": N_("It is free now"),
    "yes_report": N_("Yes: report it now"),
    "sore_after": N_("Is it sore, red or blurred? Report it, and wear no lens tonight."),
    "report_it": N_("Report it"),
    "stuck_often": N_(
        "It was stuck on 2 or more mornings in 14 days. Tell the practice, also if the eye is white: the fit may "
        "need a look."
    ),
    "start_again": N_("Start the clock again"),
    "start_clock": N_("Start the clock"),
    "stuck_when": N_("A lens is stuck if it does not move when you blink. The clock tells you when to call."),
    "stuck_how_long": N_("How long has it been stuck?"),
    "just_now": N_("Just now"),
    "minutes": NN_("%(num)s minute", "%(num)s minutes"),
    "half_an_hour": N_("30 minutes or more"),
    "until_helped": N_("Until somebody helps"),
    "how_to_loosen": N_("How to loosen it"),
    # -- days that matter
    "days_for": N_(
        "A test, a match, a trip: name the day, and see which nights to wear the lenses. Such a day never rests "
        "on a skipped night."
    ),
    "glasses_at_hand": N_("Keep glasses at hand."),
    "from_to": N_("%(day)s, %(start)s to %(end)s"),
    "two_weeks_before": N_("Two weeks before, you see here which nights to wear the lenses."),
    "no_night_left": N_("No night is left before it. Sight rests on the nights worn so far."),
    "nights_free": N_(
        "The plan leaves the night of %(nights)s free. Ask the practice whether to wear the lenses then."
    ),
    "nights_worn": N_("Wear the lenses on the night of %(nights)s."),
    "last_free": N_("The night of %(night)s may stay free if “Tonight” says so that evening. It is the last one."),
    "check_before": N_("Check sight on %(day)s in the evening, before the lenses go in."),
    "check_day": N_("Check sight on %(day)s, once the lenses are out."),
    "eye_unaided": N_("%(eye)s, without glasses"),
    "good_through": N_("Good enough all through?"),
    "no_day_named": N_("No day is named yet."),
}

HERE: Mapping[str, Said] = {
    # note: Beside something that this phone alone knows so far; %(what)s is "Both lenses in".
    "only": N_("On this phone only: %(what)s"),
    "only_here": N_("On this phone only"),
    # note: An entry that somebody took back or changed here, which the others do not know yet.
    "taken_back": N_("Taken back. So far only this phone knows."),
    "changed": N_("Changed. So far only this phone knows."),
    "days_network": N_("To add a day or to take one off needs a network."),
}

PROBLEMS: Mapping[str, str] = {
    **{one: problems_forms.SENTENCES[one] for one in ("sight_missing", "not_a_number", "not_a_clock")},
    **{one: problems_diary.SENTENCES[one] for one in ("entry_number_out_of_range", "entry_text_empty")},
}



def _named(table: Mapping[tuple[str, str | None], Said]) -> Mapping[Any, Said]:
    """Return a table whose keys without a second part are words alone."""
    return {item if part is None else (item, part): said for (item, part), said in table.items()}


TABLES: Mapping[str, Mapping[Any, Any]] = {
    "flags": red_flags.RED_FLAGS,
    "young": {
        "adult": young_words.ADULT,
        "page": young_words.PAGES,
        "intro": young_words.INTRODUCTIONS,
        "question": young_words.QUESTIONS,
        "hint": young_words.HINTS,
        "option": young_words.OPTIONS,
    },
    "pages": PAGES,
    "here": HERE,
    "problem": PROBLEMS,
    "care_step": care_words.STEPS,
    "care_why": care_words.WHYS,
    "care_item": {**_named(care_words.ITEMS), ("bottle", "peroxide"): care_words.PEROXIDE_BOTTLE},
    "renewed": _named(care_words.RENEWED),
    "stuck_said": care_words.STUCK_SAID,
    "stuck_choice": care_words.STUCK_CHOICES,
    "change_by": care_words.CHANGE_BY,
    "change_now": care_words.CHANGE_NOW,
    "limit": {**care_words.LIMITS, "no_date": care_words.NO_DATE_YET},
    "help_topic": handling_words.TOPICS,
    "help_step": handling_words.STEPS,
    "help_lead": handling_words.LEADS,
    "stuck_heading": handling_words.STUCK_HEADINGS,
    "stopped": ahead_words.STOPPED,
    "day_note": ahead_words.NOTES,
}
