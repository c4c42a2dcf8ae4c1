"""`checker test-pack`: load rule packs, run their cases, and see what the cases do not hold."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from checker.cli.look import say
from checker.cli.output import write_json, write_out
from checker.cli.progress import progress
from checker.errors import Place
from checker.findings.text import number_of
from checker.packs_asked import named
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
        asked = [pack.name for pack in named(options.pack, rulebook.packs)]
        result = vet(rulebook, asked, step)
    if options.draft_cases:
        write_out(drafted(rulebook, result.unguarded) or "# No case is missing.\n", options.output)
    elif options.format == "json":
        write_json(_data(rulebook, result), options.output)
    else:
        say("\n".join(_lines(rulebook, result)) + "\n", options.output)
    return 0 if result.is_sound else FAILED


def _lines(rulebook: Rulebook, result: Vetting) -> Iterator[str]:
    more = "is" if result.overruled == 1 else "are"
    overruled = f" ({result.overruled} more {more} overruled by amendments)" if result.overruled else ""
    yield f"{rulebook}: {number_of(len(rulebook.rules), 'rule')}, {number_of(result.cases, 'case')}{overruled}"
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


def _data(rulebook: Rulebook, result: Vetting) -> dict[str, object]:
    return {
        "packs": [{"pack": pack.name, "version": pack.version, "sha256": pack.digest} for pack in rulebook.packs],
        "rules": len(rulebook.rules),
        "cases": result.cases,
        "overruled_cases": result.overruled,
        "failures": [
            {"rule": item.case.rule, "message": item.message, **_place_data(item.case.place)}
            for item in result.failures
        ],
        "unguarded": [_weakness_data(item) for item in result.unguarded],
        "warnings": [_weakness_data(item) for item in result.warnings],
        "amendments": [
            {"pack": item.pack, "rule": item.rule, "changes": list(item.lines), **_place_data(item.place)}
            for item in result.effects
        ],
        "is_sound": result.is_sound,
    }


def _weakness_data(item: Weakness) -> dict[str, object]:
    return {"name": item.name, "message": item.message, **_place_data(item.place)}


def _place_data(place: Place) -> dict[str, object]:
    return {"file": place.file, "line": place.line}
