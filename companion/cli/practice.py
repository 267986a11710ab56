"""`companion practice`: add a practice, and print the link by which its manager joins."""

from __future__ import annotations

import argparse
from typing import Any

from companion.common.errors import InvalidInput, Problem

OPTIONS = {
    "name": "the practice's name, as families know it",
    "zone": "its time zone, such as Europe/Lisbon",
    "country": "two letters, such as PT: whose emergency number is offered first",
    "phone": "the number that families call",
    "manager": "the name of the person who joins first",
}


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("practice", help="add a practice and print its manager's invitation")
    for name, about in OPTIONS.items():
        parser.add_argument(f"--{name}", required=True, help=about)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from companion.cli._house import clock, open_house
    from companion.usecases.founding import found_practice

    settings, store = open_house()
    try:
        with store.writing() as session:
            token = found_practice(session, {name: getattr(args, name) for name in OPTIONS}, clock())
    except InvalidInput as wrong:
        raise InvalidInput(*(Problem(one.code, f"--{one.field}", one.values) for one in wrong.problems)) from None
    finally:
        store.close()
    print(f"{settings.base_url}/join/{token}")
    return 0
