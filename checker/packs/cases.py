"""Cases: what a rule must say about given values. They are read only when a pack is vetted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from checker.documents.document import Document, read_bytes, read_document
from checker.documents.schemas import problems as schema_problems
from checker.errors import CheckerError, PackError, Place, Problem
from checker.packs.files import shown_path
from checker.packs.pack import Pack

LADDER = ("outside", "advisory", "within")


@dataclass(frozen=True, slots=True)
class Case:
    """Given values and the verdict they must get; `given` maps a name to texts by station ("" for all)."""

    rule: str
    pack: str
    application: str
    given: Mapping[str, Mapping[str, tuple[str, ...]]]
    stations: Mapping[str, int]
    verdict: str
    side: str
    station: str
    value: str
    remedy: str
    source: str
    place: Place


def read_cases(pack: Pack, rule: str | None = None) -> tuple[Case, ...]:
    """All cases of a pack, or those for one rule: beside its rules and in its cases folder.

    Raises PackError naming every problem.
    """
    problems: list[Problem] = []
    cases: list[Case] = []
    paths = [*sorted(pack.folder.glob("*.yaml")), *sorted((pack.folder / "cases").glob("*.yaml"))]
    for path in paths:
        shown_as = shown_path(pack.folder, path.relative_to(pack.folder).as_posix())
        try:
            if rule is not None and rule.encode() not in read_bytes(path, shown_as):
                continue  # a file that does not name the rule has nothing on it
            document = read_document(path, shown_as)
        except CheckerError as error:
            problems.extend(error.problems)
            continue
        found = schema_problems(document, "pack")
        problems.extend(found)
        if not found:
            cases.extend(_cases_in(document, pack, problems))
    if problems:
        raise PackError(problems)
    return tuple(case for case in cases if rule in (None, case.rule))


def _cases_in(document: Document, pack: Pack, problems: list[Problem]) -> Iterator[Case]:
    for section in ("rules", "amends"):
        for rule, given in document.data.get(section, {}).items():
            for number in range(len(given.get("cases", ()))):
                yield from _case(document, (section, rule, "cases", number), rule, pack, problems)
    for rule, given in document.data.get("cases", {}).items():
        for number in range(len(given)):
            yield from _case(document, ("cases", rule, number), rule, pack, problems)


def _case(
    document: Document, path: tuple[str | int, ...], rule: str, pack: Pack, problems: list[Problem]
) -> Iterator[Case]:
    data = document.data
    for step in path:
        data = data[step]
    given = {name: dict(_texts(document, (*path, "given", name), value)) for name, value in data["given"].items()}
    plain = Case(
        rule=rule,
        pack=pack.name,
        application=data["application"],
        given=given,
        stations=data.get("stations", {}),
        verdict=data.get("verdict", ""),
        side=data.get("side", ""),
        station=str(data.get("station", "")),
        value=document.written(*path, "value") if "value" in data else "",
        remedy=data.get("remedy", ""),
        source=data.get("source", ""),
        place=document.place(*path),
    )
    ladder = [verdict for verdict in LADDER if verdict in data]
    if bool(plain.verdict) == bool(ladder) or bool(ladder) != ("vary" in data):
        problems.append(Problem("a case has either a verdict, or vary and values for verdicts", plain.place))
        return
    if plain.verdict:
        yield plain
    for verdict in ladder:
        yield from _rungs(document, path, data, plain, verdict)


def _rungs(
    document: Document, path: tuple[str | int, ...], data: Mapping[str, Any], plain: Case, verdict: str
) -> Iterator[Case]:
    for number in range(len(data[verdict])):
        written = document.written(*path, verdict, number)
        given = {**plain.given, data["vary"]: {"": (written,)}}
        yield replace(plain, given=given, verdict=verdict, place=document.place(*path, verdict, number))


def _texts(document: Document, path: tuple[str | int, ...], value: Any) -> Iterator[tuple[str, tuple[str, ...]]]:
    if isinstance(value, Mapping):
        for station, inner in value.items():
            yield station, tuple(_listed(document, (*path, station), inner))
    else:
        yield "", tuple(_listed(document, path, value))


def _listed(document: Document, path: tuple[str | int, ...], value: Any) -> Sequence[str]:
    if isinstance(value, list):
        return [document.written(*path, number) for number in range(len(value))]
    return [document.written(*path)]
