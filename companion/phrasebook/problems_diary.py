"""What can be wrong with an entry of the diary, in words. Families read them beside what they typed."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "entry_missing": N_("Please fill this in."),
    "entry_unknown_key": N_("We do not know “%(key)s”."),
    "entry_not_an_object": N_("This part came in a form that we cannot read."),
    "entry_not_a_list": N_("This must be a list."),
    "entry_list_too_long": N_("This is too much at once: at most %(most)s."),
    "entry_not_text": N_("Write this as text."),
    "entry_text_empty": N_("Write something first."),
    "entry_text_too_long": N_("This is too long. Write at most %(longest)s letters."),
    "entry_not_one_of": N_("Choose one of the answers shown."),
    "entry_not_a_word": N_("Choose one of the answers shown."),
    "entry_not_a_number": N_("Write a number here."),
    "entry_number_out_of_range": N_("Write a number from %(low)s to %(high)s."),
    "entry_not_an_id": N_("This does not name an entry."),
    "entry_unknown_zone": N_("We do not know this time zone. Write it like Asia/Singapore."),
    "entry_not_a_time": N_("Write a day and a time here."),
    "entry_time_absurd": N_("This year cannot be right. Look at the date."),
    "entry_not_a_night": N_("Write the date of the evening, such as 2026-03-31."),
    "entry_until_before_since": N_("The last night comes before the first. Change one of them."),
    "entry_too_many_nights": N_("Say this for at most %(most)s nights at once."),
    "entry_exception_outside": N_("Choose exceptions from the nights in between."),
    "no_such_entry": N_("We cannot find the entry that you want to change."),
    "report_stays": N_("A report stays as it was sent. Send a new one to add to it."),
    "withdrawal_stays": N_("This was taken back already. Write it anew."),
    "correction_changes_kind": N_("A change keeps the kind of entry. Take this one back and write a new one."),
}
