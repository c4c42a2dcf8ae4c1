"""`checker test-pack`: load rule packs, run their cases, and see what the cases do not hold."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterable, Iterator
from pathlib import Path

from checker.cli.look import say
from checker.cli.output import write_out
from checker.cli.progress import progress
from checker.plugins import gather
from checker.rulebook import Rulebook, load_rulebook
from checker.vetting.drafts import drafted
from checker.vetting.strength import Weakness
from checker.vetting.vetting import Vetting, vet

FAILED = 1


def run(options: Namespace) -> int:
    """Test packs; the status is 1 when a case fails or something is unguarded."""
    with progress("testing") as step:
        rulebook = load_rulebook(*options.pack, plugins=gather(without=options.without), strict=True)
        asked = [
            pack.name for pack in rulebook.packs if pack.name in options.pack or pack.folder in map(Path, options.pack)
        ]
        result = vet(rulebook, asked, step)
    write = say if options.format == "text" and not options.draft_cases else write_out
    write(_told(options, rulebook, result), options.output)
    return 0 if result.is_sound else FAILED


def _told(options: Namespace, rulebook: Rulebook, result: Vetting) -> str:
    if options.draft_cases:
        return drafted(rulebook, result.unguarded) or "# No case is missing.\n"
    if options.format == "json":
        return _as_json(rulebook, result)
    return "\n".join(_lines(rulebook, result)) + "\n"


def _lines(rulebook: Rulebook, result: Vetting) -> Iterator[str]:
    more = "is" if result.overruled == 1 else "are"
    overruled = f" ({result.overruled} more {more} overruled by amendments)" if result.overruled else ""
    yield f"{rulebook}: {_number(len(rulebook.rules), 'rule')}, {_number(result.cases, 'case')}{overruled}"
    for effect in result.effects:
        yield f"  {effect.pack} changes in {effect.rule}:"
        yield from (f"    {line}" for line in effect.lines)
    for failure in result.failures:
        yield f"  case fails: {failure}"
    for weakness in result.unguarded:
        yield f"  no case notices: {weakness}"
    for warning in result.warnings:
        yield f"  warning: {warning}"
    if result.is_sound:
        yield "Every case comes out as stated, and every limit is guarded by one."
    else:
        failing = "case fails" if len(result.failures) == 1 else "cases fail"
        unnoticed = "change goes" if len(result.unguarded) == 1 else "changes go"
        yield f"{len(result.failures)} {failing}; {len(result.unguarded)} {unnoticed} unnoticed."


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _as_json(rulebook: Rulebook, result: Vetting) -> str:
    data = {
        "packs": [{"pack": pack.name, "version": pack.version, "sha256": pack.digest} for pack in rulebook.packs],
        "rules": len(rulebook.rules),
        "cases": result.cases,
        "overruled_cases": result.overruled,
        "failures": [
            {
                "rule": item.case.rule,
                "message": item.message,
                "file": item.case.place.file,
                "line": item.case.place.line,
            }
            for item in result.failures
        ],
        "unguarded": list(_as_data(result.unguarded)),
        "warnings": list(_as_data(result.warnings)),
        "amendments": [
            {
                "pack": item.pack,
                "rule": item.rule,
                "changes": list(item.lines),
                "file": item.place.file,
                "line": item.place.line,
            }
            for item in result.effects
        ],
        "is_sound": result.is_sound,
    }
    return json.dumps(data, indent=2) + "\n"


def _as_data(weaknesses: Iterable[Weakness]) -> Iterator[dict[str, object]]:
    for item in weaknesses:
        yield {"name": item.name, "message": item.message, "file": item.place.file, "line": item.place.line}
