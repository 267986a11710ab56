"""`companion triage ANSWERS`: how urgent, and what to do with each lens. No database, clock or network."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from companion.exchange.answers_file import FIELD, read_answers, verdict_document
from companion.triage.evaluate import evaluate


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("triage", help="judge a file of symptom answers")
    parser.add_argument("answers", metavar=FIELD, type=Path, help="JSON with general, right and left")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    document = verdict_document(evaluate(read_answers(args.answers)))
    sys.stdout.write(json.dumps(document, indent=2) + "\n")
    return 0
