"""`checker limits`: what the limits of a rule are, in numbers for the sizes given, and where they come from."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from checker.cli.look import look_for
from checker.cli.named_values import named_values
from checker.cli.output import write_json, write_out
from checker.cli.pack_choice import packs_for
from checker.errors import Problem, UsageError
from checker.findings.text import Look
from checker.given import Given, characteristic, read_given
from checker.limits import RuleLimits, limits_of
from checker.limits_page import limits_page
from checker.limits_text import limits_table
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.layers import families
from checker.packs.pack import Pack
from checker.packs.titles import Titles
from checker.packs_asked import installed_packs, packs_with_use
from checker.plugins import Plugins, gather
from checker.rule_search import find_rules, none_found
from checker.rulebook import Rulebook, load_rulebook

MOST_BY_USE = 4
"""Of how many rules the limits are shown for every use; of more, only those for a use that is named."""


class _Answer(NamedTuple):
    """The rules of one rulebook that were asked for, for which uses, and what is given."""

    rulebook: Rulebook
    rules: Sequence[CompiledRule]
    applications: Sequence[str]
    given: Given

    def limits(self, rule: CompiledRule) -> list[RuleLimits]:
        return [limits_of(self.rulebook, rule, name, self.given) for name in self.applications]


def run(options: Namespace) -> int:
    """Show one rule in full, or several a line or two each."""
    plugins = gather(without=options.without)
    packs = installed_packs(plugins)
    options = _with_a_use(options, packs, plugins)
    rulebooks = [load_rulebook(*names, plugins=plugins) for names in _pack_sets(options, packs)]
    given = named_values(options.at, "--at", "shaft_diameter=50 mm")
    answers = _answers(_search(rulebooks, options), given, options.use)
    if options.format == "json":
        write_json(_data(answers, given))
        return 0
    look = look_for(None)
    cautions = dict.fromkeys(caution for answer in answers for caution in _cautions(answer))
    last = [f"{line}\n" for line in look.wrapped(f"Cautions: {' '.join(cautions)}")] if cautions else []
    write_out("\n".join((*(_shown(answer, options, given, look) for answer in answers), "".join(last))), None)
    return 0


def _cautions(answer: _Answer) -> Sequence[str]:
    """What can hurt: all of it below one rule, the first alone below a table, which is to fit on one screen."""
    every = answer.rulebook.layered.cautions
    return every if len(answer.rules) == 1 else every[:1]


def _with_a_use(options: Namespace, packs: Mapping[str, Pack], plugins: Plugins) -> Namespace:
    """A pack on top of any use may be named like one: it is shown on the first use that it goes with."""
    on_top = packs.get(options.use)
    if on_top is None or on_top.applications or packs_with_use(options.use, packs):
        return options
    names = [*options.pack, options.use]
    first = next(iter(load_rulebook(*names, plugins=plugins).applications), None)
    return Namespace(**{**vars(options), "pack": names, "use": first})


def _pack_sets(options: Namespace, packs: Mapping[str, Pack]) -> Iterator[Sequence[str]]:
    """The packs named, else all that are installed, those that build on each other together.

    For one use those that are needed to judge for it: with it the answer is that of a check.
    """
    if options.pack:
        yield options.pack
    elif options.use is None:
        yield from families(packs)
    else:
        yield from ([name] for name in packs_for(options.use, packs))


def _search(rulebooks: Sequence[Rulebook], options: Namespace) -> Iterator[tuple[Rulebook, Sequence[CompiledRule]]]:
    """The rules that the words find, by rulebook; raises UsageError with the nearest words where there is none.

    So it does where they name a rule that a pack has dropped.
    """
    name = "-".join(options.words)
    dropped = [book.layered.retired[name] for book in rulebooks if name in book.layered.retired]
    if dropped and not any(name in book.rules for book in rulebooks):
        raise UsageError(Problem(f"{name!r} is not asked here, by policy: {dropped[0]}"))
    hits = [(book, list(_hits(book, options))) for book in rulebooks]
    if not any(rules for _, rules in hits):
        raise none_found(options.words, rulebooks, "checker packs --format markdown lists every rule")
    yield from ((book, rules) for book, rules in hits if rules)


def _hits(book: Rulebook, options: Namespace) -> Iterator[CompiledRule]:
    """The rules that the words find; of a pack that nobody asked for and that stands on another only its own.

    Its own are those that it states or changes.
    """
    *below, top = book.packs
    is_asked_for = options.pack or options.use or not (below and (top.amends or top.retires or not top.applications))
    for rule in find_rules(options.words, book):
        changed = (rule.rule.origin, *(amendment.origin for amendment in rule.rule.amended))
        if is_asked_for or any(origin.pack == top.name for origin in changed):
            yield rule


def _answers(
    hits: Iterable[tuple[Rulebook, Sequence[CompiledRule]]], given: Mapping[str, str], use: str | None
) -> list[_Answer]:
    """The same with what is given, where a rulebook knows it; raises UsageError where none does."""
    answers, failures = [], []
    for rulebook, rules in hits:
        try:
            known = read_given(given, rulebook.characteristics)
        except UsageError as error:
            failures.append(error)
            continue
        answers.append(_Answer(rulebook, rules, rulebook.applications if use is None else [use], known))
    if not answers:
        raise min(failures, key=lambda error: len(error.problems))
    return answers


def _shown(answer: _Answer, options: Namespace, given: Mapping[str, str], look: Look) -> str:
    """One rule as a page, several as a table; of many without a use only the names."""
    book, rules = answer.rulebook, answer.rules
    titles = Titles(book.layered)
    at_values = ", ".join(
        f"{titles.of(name)} {_with_unit(written, book.characteristics[name])}"
        for name, written in (
            (characteristic(asked, book.characteristics), written) for asked, written in given.items()
        )
    )
    if len(rules) == 1:
        return limits_page(book, rules[0], answer.applications, answer.given, at_values, look)
    uses = f"for {titles.use(options.use)}" if options.use else ""
    heading = "\n".join(look.wrapped("; ".join(filter(None, (f"{len(rules)} rules of {book}", uses, at_values)))))
    if options.use is None and len(rules) > MOST_BY_USE:
        names = "".join(f"{line}\n" for rule in rules for line in look.wrapped(rule.rule.title, "  "))
        known = look.wrapped(f"Name a use with --for to see their limits: {', '.join(book.applications)}")
        return f"{heading}\n{names}\n" + "\n".join(known) + "\n"
    return f"{heading}\n\n{limits_table(list(map(answer.limits, rules)), look, titles)}"


def _with_unit(written: str, item: CompiledCharacteristic) -> str:
    """What was given, a bare number with its usual unit."""
    is_bare = written.strip()[-1:].isdigit() or written.strip().endswith(".")
    return f"{written.strip()} {item.unit.name}".rstrip() if is_bare and item.unit is not None else written


def _data(answers: Iterable[_Answer], given: Mapping[str, str]) -> dict[str, Any]:
    """The same for programs: the keys are those of RuleLimits, LimitVariant and RuleLimit."""
    return {
        "given": given,
        "rulebooks": [
            {
                "packs": [{"name": pack.name, "version": pack.version} for pack in answer.rulebook.packs],
                "limits": [_limits_data(limits) for rule in answer.rules for limits in answer.limits(rule)],
                "cautions": list(answer.rulebook.layered.cautions),
            }
            for answer in answers
        ],
    }


def _limits_data(limits: RuleLimits) -> dict[str, Any]:
    variants = [
        {**variant._asdict(), "limits": [limit._asdict() for limit in variant.limits]} for variant in limits.variants
    ]
    return {**limits._asdict(), "variants": variants}
