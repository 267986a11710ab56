"""What can be wrong with a form, in words. They stand beside the field, so they do not name it."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "missing": N_("Please fill this in."),
    "too_long": N_("This is too long. Write at most %(longest)s letters."),
    "choice_missing": N_("Choose one. “Not sure” is a good answer too."),
    "choice_unknown": N_("Choose one of the answers shown."),
    "sight_missing": N_("Say how sight was, for one eye at least."),
    "not_a_number": N_("Write a number here."),
    "not_whole": N_("Write a whole number here."),
    "number_out_of_range": N_("Write a number from %(low)s to %(high)s."),
    "not_a_date": N_("Write a date here, such as 2026-03-31."),
    "date_out_of_range": N_("Write a date from %(earliest)s to %(latest)s."),
    "not_a_clock": N_("Write a time here, such as 21:30."),
    "clock_skipped": N_("The clocks went forward over this time. Choose another one."),
    "zone_unknown": N_("We do not know this time zone. Write it like Asia/Singapore."),
    "sign_in_wrong": N_("This name and this password do not belong together. Try again."),
    "phone_unknown": N_("We cannot read this phone number. Begin with + and the country code."),
    "login_form": N_("Use a phone number, an e-mail address, or a short name of letters and numbers."),
    "login_taken": N_("Somebody here uses this name already. Choose another one."),
    "password_short": N_("Make the password longer: at least %(shortest)s letters."),
    "password_long": N_("Make the password shorter: at most %(longest)s letters."),
    "passwords_differ": N_("The two passwords are not the same. Type it twice."),
    "reason_missing": N_("Say why, in a few words."),
    "confirm_missing": N_("Tick the box to say that you mean it."),
    "date_past": N_("This day is over. Choose a later one."),
    "batch_too_large": N_("This is too much at once. Send it in parts."),
    "id_conflict": N_("This was sent before with other words. Open the page again and write it anew."),
    "not_allowed": N_("This is not yours to change. Ask the practice."),
    "consent_old": N_("The text has changed. Please read it again."),
    "setting_not_an_address": N_("must start with http:// or https://"),
    "setting_unknown_language": N_("must name languages out of: %(known)s"),
    "setting_not_a_mail_address": N_("must be one plain mail address"),
    "setting_key_unreadable": N_("%(path)s can't be read, or isn't a key. Move it away; another is made"),
    "setting_not_one_of": N_("must be one of %(allowed)s"),
    "setting_not_a_number": N_("must be a whole number"),
}
