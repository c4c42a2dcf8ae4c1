"""`checker packs`: list the rule packs that are installed."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence

from checker.cli.look import say
from checker.cli.output import save, write_json, write_out
from checker.documents.document import digest_of
from checker.errors import PackError, Problem
from checker.packs.contents import CONTENTS, contents_of, with_releases
from checker.packs.files import parsed_files
from checker.packs.pack import Pack
from checker.packs.released import Standing, lock_path, lock_text, releases
from checker.packs_asked import installed_packs, named, read_packs
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook
from checker.vetting.rule_table import rule_table
from checker.vetting.vetting import vet

ALTERED = 1
_PREFACE = """\
Written by `checker packs --format markdown`. `checker limits RULE` says more of each: the limits that count for every
use, in numbers, with their sources, remedies and cautions.
"""


def run(options: Namespace) -> int:
    """List every installed pack, its content compared with what was released; the status is 1 when one was altered."""
    plugins = gather(without=options.without)
    packs = _packs(options.pack, plugins)
    if options.release:
        _release(packs, plugins)
        return 0
    if options.format == "markdown":
        write_out(_tables(packs, plugins), None)
    elif options.format == "json":
        write_json([_row(pack) for pack in packs])
    else:
        say("\n\n".join("\n".join(_lines(pack)) for pack in packs) + "\n")
    return ALTERED if any(pack.standing is Standing.ALTERED for pack in packs) else 0


def _packs(wanted: Sequence[str], plugins: Plugins) -> list[Pack]:
    """Those asked for, by name or folder; else all that are installed."""
    return named(wanted, read_packs(wanted, plugins)) if wanted else list(installed_packs(plugins).values())


def _release(packs: Sequence[Pack], plugins: Plugins) -> None:
    """Record the content of the packs that come with the checker, once all of it is checked and tested."""
    own = [pack for pack in packs if pack.folder.parent == lock_path().parent]
    for pack in own:
        if not vet(load_rulebook(pack.name, plugins=plugins, strict=True), [pack.name]).is_sound:
            raise PackError(Problem(f"{pack} is not sound", hint=f"see checker test-pack {pack.name}"))
    contents = {pack.folder / CONTENTS: contents_of(parsed_files(pack.folder)) for pack in own}
    digests = [digest_of(text.encode()) for text in contents.values()]
    lock = lock_text(with_releases(zip(own, digests, strict=True), releases()))
    for path, text in {**contents, lock_path(): lock}.items():
        save(text, path)


def _tables(packs: Sequence[Pack], plugins: Plugins) -> str:
    """Every rule of every pack, those first that stand alone."""
    ordered = sorted(packs, key=lambda pack: (len(pack.builds_on), pack.name))
    tables = [rule_table(pack, load_rulebook(pack.folder, plugins=plugins)) for pack in ordered]
    return "# Rules\n\n" + _PREFACE + "\n" + "\n".join(tables)


def _row(pack: Pack) -> dict[str, object]:
    return {
        "pack": pack.name,
        "version": pack.version,
        "title": pack.title,
        "builds_on": dict(pack.builds_on),
        "applications": {item.name: item.title for item in pack.applications},
        "rules": len(pack.rules),
        "amends": len(pack.amends),
        "retires": len(pack.retires),
        "sha256": pack.digest,
        "standing": str(pack.standing),
    }


def _lines(pack: Pack) -> Iterator[str]:
    yield f"{pack}: {pack.title}"
    counts = ((pack.rules, "rules"), (pack.amends, "amended"), (pack.retires, "retired"))
    summary = ", ".join(f"{len(stated)} {word}" for stated, word in counts if stated)
    yield f"  {summary}; SHA-256 {pack.digest[:12]}, {pack.standing}"
    if pack.builds_on:
        yield "  builds on " + ", ".join(f"{name} {allowed}" for name, allowed in pack.builds_on.items())
    for application in pack.applications:
        yield f"  use {application.name}: {application.title}"
