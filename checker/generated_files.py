"""What is written from the declared keys: the JSON Schemas, and a page of tables for who writes packs or records.

`python -m checker.generated_files` writes all anew in a checkout; a test fails until it is done.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from importlib.resources import files
from pathlib import Path

from checker.documents.key_schema import json_schema, key_table, meaning, models_within, words_of
from checker.packs.pack import Pack
from checker.records.record import Record
from checker.reports.report_keys import ReportKeys

_MODELS = {"pack": ("Rule pack", Pack), "record": ("Record of measurements", Record)}
"""What people write."""
_INTRODUCTION = """# Every key

What may stand in the files of a rule pack, and in a record. This page is written from the declarations of the keys, as
are the schemas for editors and what the checker refuses: each key is declared once, in `checker/packs/` and
`checker/records/`.
"""


def generated() -> Mapping[Path, str]:
    """The files that are written, with what must stand in them."""
    schemas = {
        Path(str(files("checker_schema"))) / f"{name}.schema.json": json_schema(model, name, title)
        for name, (title, model) in _MODELS.items()
    }
    schemas[Path(str(files("checker_schema"))) / "report.schema.json"] = json_schema(
        ReportKeys, "report", "Report", is_closed=False
    )
    page = Path(str(files("checker_rules"))) / "KEYS.md"
    texts = {path: json.dumps(schema, indent=2) + "\n" for path, schema in schemas.items()}
    return {**texts, page: "\n".join([_INTRODUCTION, *_tables()])}


def _tables() -> Iterator[str]:
    for title, model in _MODELS.values():
        yield from (f"## {title}", "", meaning(model), "", *key_table(model), "")
        for inner in models_within(model):
            if table := key_table(inner):
                yield from (f"### {words_of(inner)}", "", meaning(inner), "", *table, "")


if __name__ == "__main__":
    for path, text in generated().items():
        path.write_text(text, encoding="utf-8")
