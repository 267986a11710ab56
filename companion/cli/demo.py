"""`companion demo`: a practice and five invented people up to today, in a database of their own, served."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from companion.cli.serve import add_address, port_of, serve

if TYPE_CHECKING:
    from companion.cli._demo_family import Demo


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("demo", help="make the demo practice and families up to today, and serve them")
    add_address(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from companion.cli import _demo_family
    from companion.cli._house import clock, fresh_store, instance_folder, log_to_standard_error
    from companion.config import from_environment
    from companion.phrasebook.languages import LANGUAGES

    log_to_standard_error()
    port = port_of(args)
    people = _demo_family.read_family()
    settings = from_environment()
    # A database of its own, made anew each time: the demo always ends today, and touches nobody's real one.
    file = instance_folder() / "demo.db"
    settings = replace(
        settings, database_url=f"sqlite:///{file}", base_url=f"http://{args.host}:{port}",
        languages=tuple(one.tag for one in LANGUAGES.values() if not one.pseudo), demo=True,
    )  # fmt: skip
    store = fresh_store(file)
    demo = _demo_family.fill(store, people, clock())
    return serve(settings, store, args.host, port, announce=lambda: _tell(demo, settings.base_url))


def _tell(demo: Demo, address: str) -> None:
    from companion.phrasebook.phrases import Phrases

    phrases = Phrases()
    wide = [max(len(row[column]) for row in demo.logins) for column in (0, 1)]
    lines = [
        phrases.gettext("The demo is at %(address)s and starts anew each time.", address=address),
        phrases.gettext("Sign in with one of these names; the password is: %(password)s", password=demo.password),
        "",
        *(f"  {login:<{wide[0]}}  {name:<{wide[1]}}  {tie}" for login, name, tie in demo.logins),
        "",
        phrases.gettext(
            "An invitation that nobody has used yet: %(link)s", link=f"{address}/join/{demo.invitation}"
        ),
        phrases.gettext("Something is wrong, signed out: %(link)s", link=f"{address}/wrong"),
    ]
    sys.stdout.write("\n".join(lines) + "\n")
    sys.stdout.flush()
