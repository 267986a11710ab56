"""What can be wrong with what `companion serve` and `companion demo` need."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "port_wrong": N_("must be a number from 1 to 65535"),
    "address_taken": N_("the companion cannot listen at %(host)s:%(port)s; something else may be there"),
    "demo_missing": N_(
        "the folder with the demo's people is not here; run the demo from the project's own folder"
    ),
}
