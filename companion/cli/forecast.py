"""`companion forecast RECORD`: what the wearer will see, and what to do tonight. No database, clock or network."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from companion.common.errors import InvalidInput, Problem
from companion.exchange.forecast import FARTHEST, forecast
from companion.exchange.record_file import FIELD, read_record
from companion.exchange.strict_json import instant

_WORDS = {"wear": True, "skip": False}
MOST_NIGHTS = FARTHEST.days


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("forecast", help="forecast refraction and acuity of a record file")
    parser.add_argument("record", metavar=FIELD, type=Path, help="a record file")
    parser.add_argument("--as-of", metavar="TIME", help="forecast from here (default: the latest time in any row)")
    parser.add_argument(
        "--at", metavar="TIME", action="append", default=[], help="a time to forecast; may be repeated"
    )
    parser.add_argument("--nights", metavar="WORDS", help="the coming nights, such as wear,skip,wear")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    as_of = None if args.as_of is None else instant(args.as_of, "--as-of")
    at = [instant(time, "--at") for time in args.at]
    nights = [] if args.nights is None else _nights(args.nights)
    document = forecast(read_record(args.record), as_of, at, nights)
    sys.stdout.write(json.dumps(document, indent=2) + "\n")
    return 0


def _nights(words: str) -> list[bool]:
    named = words.split(",")
    if any(word not in _WORDS for word in named):
        raise InvalidInput(Problem("nights_unreadable", "--nights"))
    if len(named) > MOST_NIGHTS:
        raise InvalidInput(Problem("too_many_nights", "--nights", {"most": MOST_NIGHTS}))
    return [_WORDS[word] for word in named]
