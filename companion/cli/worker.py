"""`companion worker`: sends the outbox and climbs the alerts, beside one or more web processes."""

from __future__ import annotations

import argparse
from typing import Any


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("worker", help="send messages and climb alerts, without serving pages")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from companion.cli._house import clock, log_to_standard_error, open_house, until_told_to_stop
    from companion.clockwork.worker import ticker

    log_to_standard_error()
    settings, store = open_house()
    stop = until_told_to_stop()
    ticking = ticker(settings, store, clock)
    ticking.start()
    stop.wait()
    ticking.stop()
    store.close()
    return 0
