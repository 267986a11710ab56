"""What can be wrong with a record file or with the command line, in words. A field's name stands before."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "record_unreadable": N_("the file cannot be read"),
    "record_too_large": N_("the file is larger than %(megabytes)s MB"),
    "record_not_utf8": N_("the file is not UTF-8 text"),
    "record_not_json": N_("the file is not JSON"),
    "record_not_json_at": N_("the file is not JSON (line %(line)s, column %(column)s)"),
    "record_key_twice": N_("stands twice in the same object"),
    "record_missing": N_("is missing"),
    "record_unknown_key": N_("is not a key of the record file"),
    "record_not_object": N_("must be an object"),
    "record_not_list": N_("must be a list"),
    "record_not_text": N_("must be text"),
    "record_not_flag": N_("must be true or false"),
    "record_not_number": N_("must be a number"),
    "record_not_whole": N_("must be a whole number"),
    "record_out_of_range": N_("must be from %(low)s to %(high)s"),
    "record_not_above_zero": N_("must be above 0 and at most %(high)s"),
    "record_not_one_of": N_("must be one of: %(allowed)s"),
    "record_not_time": N_("must be a time such as 2026-10-01T21:30+08:00"),
    "record_naive_time": N_("must have an offset, as in 2026-10-01T21:30+08:00"),
    "record_absurd_time": N_("must lie in the years %(first)s to %(last)s"),
    "record_not_date": N_("must be a date such as 2026-10-01"),
    "record_not_clock": N_("must be a time of day such as 18:00"),
    "record_unknown_zone": N_("must name a time zone such as Asia/Singapore"),
    "record_empty": N_("must not be empty"),
    "record_day_twice": N_("names a day twice"),
    "record_plan_unclear": N_("must have either every or weekdays"),
    "record_eye_not_listed": N_("names the %(eye)s eye, which is not listed in eyes"),
    "record_wear_length": N_("must be after in, by at most %(hours)s hours"),
    "record_overlap": N_("overlaps with %(other)s"),
    "record_still_in": N_("may be missing only in the last row of an eye"),
    "no_as_of": N_("must be given, for the record has no rows"),
    "born_later": N_("must not be after the year of the forecast (%(as_of)s)"),
    "time_outside_forecast": N_("must be from %(earliest)s to %(latest)s"),
    "nights_unreadable": N_("must be words out of wear and skip, with commas between"),
    "too_many_nights": N_("must name at most %(most)s nights"),
    "option_unknown": N_("is not an option of this command"),
    "option_without_value": N_("needs one value"),
    "option_takes_none": N_("takes no value"),
    "argument_missing": N_("must be given"),
    "argument_wrong": N_("is not understood"),
    "argument_too_many": N_("is one argument too many"),
    "command_missing": N_("must be one of: %(known)s"),
    "command_unknown": N_("is no command; they are: %(known)s"),
    "our_fault": N_("something went wrong on our side (%(what)s)"),
}
