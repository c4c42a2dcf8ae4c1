"""What is written from the code: JSON Schemas, a page of tables for who writes packs or records, compiled expressions.

`python -m checker.generated_files` writes all anew in a checkout; a test fails until it is done.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from checker.documents.key_schema import json_schema, key_table, meaning, models_within, words_of
from checker.packs.pack import Pack
from checker.packs.programs import PROGRAMS, programs_text
from checker.packs.released import lock_path
from checker.plugins import gather
from checker.records.record import Record
from checker.reports.report_keys import ReportKeys
from checker.rulebook import load_rulebook

_MODELS = {"pack": ("Rule pack", Pack), "record": ("Record of measurements", Record)}
"""What people write."""
_INTRODUCTION = """# Every key

What may stand in the files of a rule pack, and in a record. This page is written from the declarations of the keys, as
are the schemas for editors and what the checker refuses: each key is declared once, in `checker/packs/` and
`checker/records/`.
"""


def generated() -> Iterator[tuple[Path, str]]:
    """The files that are written, with what must stand in them.

    The schemas come first: packs that use a new key are read only once these know it.
    """
    folder = Path(str(files("checker_schema")))
    schemas = {name: json_schema(model, name, title) for name, (title, model) in _MODELS.items()}
    schemas["report"] = json_schema(ReportKeys, "report", "Report", is_closed=False)
    for name, schema in schemas.items():
        yield folder / f"{name}.schema.json", json.dumps(schema, indent=2) + "\n"
    yield Path(str(files("checker_rules"))) / "KEYS.md", "\n".join([_INTRODUCTION, *_tables()])
    yield from _programs()


def _programs() -> Iterator[tuple[Path, str]]:
    """What the expressions of each pack that comes with the checker compile to, but for those it builds on."""
    plugins = gather()
    for name, folder in plugins.rule_packs.items():
        if folder.parent == lock_path().parent:
            book = load_rulebook(name, plugins=plugins, strict=True)
            own, packs = book.packs[-1], {pack.name: pack for pack in book.packs}
            below = load_rulebook(*own.builds_on, plugins=plugins, strict=True).scope.compiled if own.builds_on else {}
            compiled = {key: found for key, found in book.scope.compiled.items() if key not in below}
            yield folder / PROGRAMS, programs_text(own, packs, compiled)


def _tables() -> Iterator[str]:
    for title, model in _MODELS.values():
        yield from (f"## {title}", "", meaning(model), "", *key_table(model), "")
        for inner in models_within(model):
            if table := key_table(inner):
                yield from (f"### {words_of(inner)}", "", meaning(inner), "", *table, "")


if __name__ == "__main__":
    for path, text in generated():
        path.write_text(text, encoding="utf-8")
