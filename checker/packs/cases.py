"""Cases: what a rule must say about given values. They are read only when a pack is vetted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping

from checker.documents.document import read_bytes, read_document
from checker.documents.each_of import EACH_OF, written_out
from checker.documents.schemas import problems as schema_problems
from checker.errors import CheckerError, PackError, Problem
from checker.packs.case import Case
from checker.packs.files import CASES, DRAFTS, case_files, shown_path
from checker.packs.pack import Pack
from checker.packs.reader import keys_in

LADDER = ("outside", "advisory", "within")


def read_cases(pack: Pack, rules: Collection[str] | None = None) -> tuple[Case, ...]:
    """All cases of a pack, or those for some rules: beside its rules and in its cases folder; a verdict each.

    Raises PackError naming every problem.
    """
    problems: list[Problem] = []
    stated = [thing.cases for section in (pack.rules, pack.amends) for thing in section]
    stated += [each for cases in (pack.cases, *_in_folder(pack, rules, problems)) for each in cases.values()]
    wanted = [case for each in stated for case in each if rules is None or case.rule in rules]
    problems.extend(_strange(wanted))
    if problems:
        raise PackError(problems)
    return tuple(plain for case in wanted for plain in _with_one_verdict(case))


def _in_folder(
    pack: Pack, rules: Collection[str] | None, problems: list[Problem]
) -> Iterator[Mapping[str, tuple[Case, ...]]]:
    """The cases section of every file in the cases folder, or of those that name one of the rules."""
    for path in case_files(pack.folder):
        shown_as = shown_path(pack.folder, f"{CASES}/{path.name}")
        try:
            if rules is not None and not _may_name(rules, read_bytes(path, shown_as)):
                continue
            document = written_out(read_document(path, shown_as))
        except CheckerError as error:
            problems.extend(error.problems)
            continue
        faults = schema_problems(document, "pack") or [
            Problem("this is not read in a file of cases", document.place(key), "move it into a file beside pack.yaml")
            for key in document.data
            if key not in (CASES, DRAFTS)
        ]
        problems.extend(faults)
        if not faults:
            yield keys_in(document, pack.name, pack.version, problems).get("cases", {})


def _may_name(rules: Collection[str], raw: bytes) -> bool:
    """Whether a file may have cases for one of the rules: it names that, or names are made in it."""
    return any(rule.encode() in raw for rule in rules) or EACH_OF.encode() in raw


def _strange(cases: Iterable[Case]) -> Iterator[Problem]:
    for case in cases:
        ladder = [verdict for verdict in LADDER if getattr(case, verdict)]
        if bool(case.verdict) == bool(ladder) or bool(ladder) != bool(case.vary):
            yield Problem("a case has either a verdict, or vary and values for verdicts", case.place)


def _with_one_verdict(case: Case) -> Iterator[Case]:
    """A case that varies one value, as one for each value."""
    if case.verdict:
        yield case
        return
    for verdict in LADDER:
        for number, written in enumerate(getattr(case, verdict)):
            origin = case.origin._replace(path=(*case.origin.path, verdict, number))
            yield case._replace(given={**case.given, case.vary: {"": (written,)}}, verdict=verdict, origin=origin)
