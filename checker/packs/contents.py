"""What the YAML files of a released pack say, as JSON beside them: the same content, read many times as fast.

`checker packs --release` writes it. It stands in for the YAML files only where their bytes and its own are all as the
lock file records them, so that nobody can change the one and not the other.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

from checker.documents.document import Document, content_of
from checker.errors import PackError, Problem
from checker.packs.pack import Pack
from checker.packs.released import Release, Releases, Standing, standing

CONTENTS = "contents.json"


def contents_of(files: Mapping[str, Document]) -> str:
    """The JSON text of the contents of files, by their names; a line for each."""
    lines = (f"{json.dumps(name)}: {json.dumps(content_of(document))}" for name, document in files.items())
    return "{\n" + ",\n".join(lines) + "\n}\n"


def with_releases(packs: Iterable[tuple[Pack, str]], known: Releases) -> Releases:
    """What is known and these packs, each with the digest of its contents as JSON.

    Raises PackError where a version was released with another content.
    """
    merged = {name: dict(versions) for name, versions in known.items()}
    problems = []
    for pack, contents in packs:
        if standing(pack.name, pack.version, pack.digest, known) is Standing.ALTERED:
            message = f"{pack.name} {pack.version} was released with another content"
            problems.append(Problem(message, hint="raise the version"))
        merged.setdefault(pack.name, {})[pack.version] = Release(pack.digest, contents)
    if problems:
        raise PackError(problems)
    return {name: dict(sorted(merged[name].items())) for name in sorted(merged)}
