"""Why an entry waits on a phone, in words. It stands beside the entry."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    # note: about an entry of the diary that is on this phone and not yet sent
    "sign_in_first": N_("Sign in first. Until then this stays on this phone."),
    # note: about an entry of the diary that is on this phone and not yet sent
    "consent_first": N_("First read what is kept here, and agree. Until then this stays on this phone."),
}
