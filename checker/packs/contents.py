"""What the YAML files of a released pack say, as JSON beside them: the same content, read many times as fast.

`checker packs --release` writes it. It stands in for the YAML files only where their bytes and its own are all as the
lock file records them, so that nobody can change the one and not the other.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

from checker.documents.document import Document, content_of

CONTENTS = "contents.json"


def contents_of(files: Mapping[str, Document]) -> str:
    """The JSON text of the contents of files, by their names; a line for each."""
    lines = (f"{json.dumps(name)}: {json.dumps(content_of(document))}" for name, document in files.items())
    return "{\n" + ",\n".join(lines) + "\n}\n"
