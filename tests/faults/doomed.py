"""Run the companion's command line in a process that kills itself at a named point: no clean-up, no farewell.

python tests/faults/doomed.py POINT COMMAND [OPTION ...]
"""

from __future__ import annotations

import os
import signal
import smtplib
import sys
from collections.abc import Callable
from pkgutil import resolve_name
from typing import Any


def die(*_: Any, **__: Any) -> Any:
    os.kill(os.getpid(), signal.SIGKILL)


def die_after(whole: Callable[..., Any]) -> Callable[..., Any]:
    def doomed(*given: Any, **named: Any) -> Any:
        whole(*given, **named)
        die()

    return doomed


def half_a_letter(talk: smtplib.SMTP, letter: str | bytes) -> None:
    """Say DATA, send half of the letter, and die."""
    talk.putcmd("data")
    talk.getreply()
    assert talk.sock is not None
    raw = letter.encode() if isinstance(letter, str) else letter
    talk.sock.sendall(raw[: len(raw) // 2])
    die()


SENDING, CLIMBING = "companion.usecases.sending", "companion.usecases.climbing"
POINTS: dict[str, tuple[str, str, Callable[[Callable[..., Any]], Callable[..., Any]]]] = {
    # point: the module and the name that is replaced there, and by what
    "a message is claimed": ("companion.clockwork.lanes", "carry", lambda _: die),
    "half a letter is out": ("smtplib", "SMTP.data", lambda _: half_a_letter),
    "a letter is kept and not marked": ("companion.clockwork.worker", "send_mail", die_after),
    "a push is kept and not marked": ("companion.usecases.carrying", "send_push", die_after),
    "a call is kept and not marked": ("companion.usecases.carrying", "send_webhook", die_after),
    "a message is marked": ("companion.clockwork.lanes", "carry", die_after),
    "a step is written and not committed": (CLIMBING, "_tell_family", lambda _: die),
    "a step is committed": (CLIMBING, "_climb", die_after),
    "a raise is written and not committed": ("companion.usecases.rechecking", "_tell", die_after),
    "a raise is committed": ("companion.usecases.rechecking", "_raise", die_after),
    "a report is written and not committed": ("companion.usecases.recording", "refresh_state", lambda _: die),
    "a report is committed": ("companion.usecases.recording", "record_entries", die_after),
}


def doom(point: str) -> None:
    module, name, replacement = POINTS[point]
    owner = resolve_name(module)
    *outer, last = name.split(".")
    for one in outer:
        owner = getattr(owner, one)
    setattr(owner, last, replacement(getattr(owner, last)))


if __name__ == "__main__":
    doom(sys.argv[1])
    from companion.cli import main

    sys.exit(main(sys.argv[2:]))
