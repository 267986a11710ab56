"""Makes of each ``messages.po`` the ``messages.mo`` that the app reads. Set-up runs it; git ignores what it makes.

.venv/bin/python translations/build.py
"""

from __future__ import annotations

import os
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

HERE = Path(__file__).resolve().parent


def build() -> None:
    """Make what is missing or older than its source; a second call does nothing."""
    for source in sorted(HERE.glob("*/LC_MESSAGES/messages.po")):
        made = source.with_suffix(".mo")
        if made.exists() and made.stat().st_mtime_ns > source.stat().st_mtime_ns:
            continue
        with source.open("rb") as file:
            catalogue = read_po(file, locale=source.parts[-3])
        # Beside it first, so that nobody ever reads half a file.
        half = made.with_suffix(f".{os.getpid()}")
        with half.open("wb") as file:
            write_mo(file, catalogue, use_fuzzy=False)
        half.replace(made)


if __name__ == "__main__":
    build()
