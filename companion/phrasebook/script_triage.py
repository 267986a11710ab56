"""What the phone's script says around a triage that it does by itself: tables for ``script_words``.

The advice, the questions and their reasons stand in tables of their own rooms. Here is what the server's pages of
*Something is wrong* have in their templates, in the same words, and what only a report without a network needs.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, InContext
from companion.phrasebook.problems_forms import SENTENCES
from companion.phrasebook.safety_text import NOTES

WRONG: Mapping[str, str] = {
    # -- as on the server's pages
    "both": N_("The other eye too? Start again with both"),
    "no_one_told": N_("You are not signed in. You get advice, but your practice is not told: phone them."),
    "not_told": N_("Your practice is not told. Phone them."),
    "nothing_kept": N_("Nothing of this was kept."),
    "change_place": N_("Change the place:"),
    "choose_place": N_("Choose the place where you are"),
    "place": N_("The number follows the place where you are, not the language."),
    "told": N_("Who has been told"),
    "again": N_("Worse, or something new? Report again"),
    "choose": SENTENCES["choice_missing"],
    # -- where there is no network. "Them" is the practice.
    "saved": N_("Saved on this phone. Not sent yet: phone them now."),
    "unsaved": N_("This phone could not keep the report. Phone your practice now."),
    "refused": N_("The practice could not take this report. Phone them now."),
    "has_it": N_("The practice has this report. Phone them as well."),
    "follow": N_("See who has been told"),
    # note: A photo of the eye, for the practice.
    "photo_later": N_("You can add a photo once this is sent."),
}

TABLES: Mapping[str, Mapping[str, str | InContext]] = {
    "wrong": WRONG,
    "note": {speech.value: words for speech, words in NOTES.items()},
}
