"""What is written from the declared keys: a JSON Schema, and the tables of keys in the guide for pack writers.

`python -m checker.generated_files` writes both anew in a checkout; a test fails until it is done.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from importlib.resources import files
from pathlib import Path

from checker.documents.key_schema import json_schema, key_table, meaning, models_within, words_of
from checker.packs.pack import Pack

_START, _END = "<!-- keys: written by python -m checker.generated_files -->", "<!-- end of keys -->"


def generated() -> Mapping[Path, str]:
    """The files that are written, with what must stand in them."""
    schema = json_schema(Pack, "pack", "Rule pack")
    guide = Path(str(files("checker_rules"))) / "README.md"
    before, rest = guide.read_text(encoding="utf-8").split(_START)
    after = rest.split(_END)[1]
    tables = "\n".join(_tables())
    return {
        Path(str(files("checker_schema"))) / "pack.schema.json": json.dumps(schema, indent=2) + "\n",
        guide: f"{before}{_START}\n{tables}\n{_END}{after}",
    }


def _tables() -> Iterator[str]:
    for model in (Pack, *models_within(Pack)):
        if table := key_table(model):
            yield from ("", f"**{words_of(model)}**: {meaning(model)}", "", *table)
    yield ""


if __name__ == "__main__":
    for path, text in generated().items():
        path.write_text(text, encoding="utf-8")
