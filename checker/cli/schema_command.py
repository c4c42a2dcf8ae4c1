"""`checker schema`: what editors complete and check the files of a rule pack by."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.output import write_json
from checker.documents.key_schema import json_schema
from checker.packs.pack import Pack
from checker.plugins import gather
from checker.vetting.name_schema import name_schema


def run(options: Namespace) -> int:
    """Write the JSON Schema of packs; for one pack with every name that may stand in it."""
    if options.pack:
        schema = name_schema(options.pack, gather(without=options.without))
    else:
        schema = json_schema(Pack, "pack", "Rule pack")
    write_json(schema, options.output, indent=1)
    return 0
