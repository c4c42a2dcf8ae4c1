"""The packs that a record names, against those that are there to judge it by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.errors import Problem
from checker.packs.pack import Pack
from checker.packs.versions import satisfies
from checker.records.record import Record


def packs_amiss(record: Record, packs: Sequence[Pack]) -> Iterator[Problem]:
    """Packs that the record asks for and that are not there, or in other versions: too little would be asked."""
    there = {pack.name: pack for pack in packs}
    for name, allowed in record.rule_packs.items():
        place = record.document.place("rule_packs", name)
        if name not in there:
            message = f"the record asks for pack {name!r}, here are {', '.join(map(str, packs))}"
            hint = 'load it as well, as in load_rulebook("gear-train", "our-shop"), or use rulebook_for(record)'
            yield Problem(message, place, hint)
        elif not satisfies(there[name].version, allowed):
            yield Problem(f"the record asks for pack {name!r} {allowed}, here is {there[name].version}", place)
