"""`checker vet`: load rule packs and run their cases."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator

from checker.cli.output import put
from checker.plugins import gather
from checker.rulebook import Rulebook, load_rulebook
from checker.vetting import Vetting, vet

FAILED = 1


def run(options: Namespace) -> int:
    """Vet packs; the status is 1 when a case fails or a limit is unguarded."""
    rulebook = load_rulebook(*options.pack, plugins=gather())
    result = vet(rulebook)
    put(_as_json(result) if options.format == "json" else "\n".join(_lines(rulebook, result)) + "\n", None)
    return 0 if result.is_sound else FAILED


def _lines(rulebook: Rulebook, result: Vetting) -> Iterator[str]:
    yield f"{rulebook}: {len(rulebook.rules)} rules, {result.cases} cases"
    for failure in result.failures:
        yield f"  case fails: {failure}"
    for weakness in result.unguarded:
        yield f"  no case notices: {weakness}"
    if result.is_sound:
        yield "Every case comes out as stated, and every limit is guarded by one."
    else:
        yield f"{len(result.failures)} cases fail; {len(result.unguarded)} changes go unnoticed."


def _as_json(result: Vetting) -> str:
    data = {
        "cases": result.cases,
        "failures": [
            {
                "rule": item.case.rule,
                "message": item.message,
                "file": item.case.place.file,
                "line": item.case.place.line,
            }
            for item in result.failures
        ],
        "unguarded": [
            {"rule": item.rule, "change": item.change, "file": item.place.file, "line": item.place.line}
            for item in result.unguarded
        ],
    }
    return json.dumps(data, indent=2) + "\n"
