"""What ``companion check`` says of each finding: what is wrong. What to do."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

# note: one line each for whoever runs the server: what is wrong, then what to do; %(job)s is a job's name
FINDINGS: Mapping[str, str] = {
    "database_unreachable": N_(
        "cannot be opened (%(error)s). Check COMPANION_DATABASE_URL and that the server runs."
    ),
    "database_behind": N_(
        "stands at migration %(version)s, the program at %(head)s. "
        "Start the companion again; it moves the database on."
    ),
    "key_missing": N_("there is no secret key at %(path)s. Start the companion once; it makes one."),
    "key_open": N_("others may read %(path)s (mode %(mode)s). Run: chmod 600 %(path)s"),
    "push_key_missing": N_(
        "there is no key for alerts on devices at %(path)s. Start the companion once; it makes one."
    ),
    "devices_failing": N_(
        "%(num)s devices take no alerts, the first since %(since)s. "
        "Ask whose they are to open “Alerts on this device”, and see that this server reaches the internet."
    ),
    "devices_gone": N_(
        "%(num)s devices have stopped taking alerts by themselves, the first at %(since)s. "
        "Ask whose they are to switch them on again."
    ),
    "gateway_failing": N_(
        "%(practice)s: its gateway takes no messages since %(since)s. Check that it runs, and send it a test."
    ),
    "proxies_unsaid": N_(
        "COMPANION_BASE_URL is https, yet no proxy is trusted, so everybody seems to come from one address and "
        "shares its tries to sign in. Set COMPANION_TRUSTED_PROXIES to how many stand in front."
    ),
    "catalogue_missing": N_(
        "the sentences of %(language)s are not built, so English is shown. Run tests/setup app."
    ),
    "mail_missing": N_(
        "no mail server is set up, so alerts go to devices and gateways alone. "
        "Set COMPANION_SMTP_HOST and COMPANION_SMTP_SENDER."
    ),
    "mail_unreachable": N_(
        "the server %(host)s:%(port)s cannot be used (%(error)s). "
        "Check that it runs, and the COMPANION_SMTP settings."
    ),
    "job_never": N_(
        "%(job)s has never run. Start “companion worker”, or “companion serve”, which does its work too."
    ),
    "job_late": N_("%(job)s last ran at %(since)s. Start the worker again and read its log."),
    "job_broke": N_("%(job)s broke when it last ran (%(error)s). Read the worker's log."),
    "forecasts_broke": N_(
        "the forecast of %(num)s wearers could not be made when last tried (first at %(since)s). "
        "They see the last one, and no night is freed. Read the worker's log."
    ),
    "outbox_stuck": N_(
        "%(num)s messages wait, the oldest since %(since)s (%(error)s). Check the mail server, then the worker."
    ),
    "outbox_given_up": N_(
        "%(num)s messages of the last day were not accepted (%(error)s). "
        "Correct the addresses of the staff they went to."
    ),
    "alert_nobody_to_tell": N_(
        "%(practice)s: a report at level %(level)s from %(since)s could be sent to nobody. Call the practice."
    ),
    "alert_nobody_took_it": N_(
        "%(practice)s: nobody has taken a report at level %(level)s from %(since)s. Call the practice."
    ),
    "alert_no_contact_yet": N_(
        "%(practice)s: a report at level %(level)s from %(since)s was taken, but the family is not reached. "
        "Call the practice."
    ),
    "no_contact": N_(
        "%(practice)s: nobody can be told of an alert. "
        "Give a member of staff a mail address or a device, and add them to the plan."
    ),
    "plan_names_unreachable": N_(
        "%(practice)s: the alert plan names %(person)s, who has left or cannot be reached. Change the plan."
    ),
    "plan_reaches_nobody": N_(
        "%(practice)s: nobody whom the alert plan names can be reached, so reports go to the other staff. "
        "Change the plan."
    ),
    "alerts_off": N_(
        "%(practice)s: alerts are off, so nobody is told of a report and families are told to phone. "
        "Answer a test alert, then switch them on."
    ),
    "way_not_accepted": N_(
        "%(practice)s: the last test to %(person)s by %(channel)s, sent %(since)s, was not accepted. "
        "Mend that way, then send a test."
    ),
    "way_not_answered": N_(
        "%(practice)s: %(person)s has answered no test by %(channel)s for two weeks; the last was sent %(since)s. "
        "Ask whether tests arrive."
    ),
    "on_call_unmanned": N_(
        "%(practice)s: there are hours on call, but nobody of the plan can be reached in them. Change the plan."
    ),
    "alert_alerts_off": N_(
        "%(practice)s: a report at level %(level)s from %(since)s was sent to nobody, as alerts are off. "
        "Call the practice."
    ),
    "never_open": N_("%(practice)s: no opening hours are set, so nobody is ever on duty. Set them."),
    "no_practitioner": N_("%(practice)s: there is no practitioner to close reports or lift holds. Invite one."),
}

ALL_WELL = N_("nothing found")
