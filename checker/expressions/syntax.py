"""Reading an expression's text: only what the grammar allows becomes a syntax tree.

This is the guard: whatever evaluates the tree later relies on nothing else having passed. The characters, sizes and
forms are checked first, on the text; then every node of the tree against a list of the node types allowed (grammar.py).
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise
from keyword import iskeyword
from typing import NamedTuple

from checker.errors import Problem
from checker.expressions.grammar import QUOTED, WHERE, below, node_problems, size_problems
from checker.expressions.names import WORDS_OF_THE_LANGUAGE
from checker.expressions.problems import fault
from checker.expressions.quantities import Written, written_quantities

MOST_CHARACTERS = 500
MOST_PARENTHESES = 20
_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")
_STRANGE = re.compile(r"[^A-Za-z0-9_.+\-*/()<>=!, \"']")
_FORMS = (
    ("\"'", re.compile(r"[\"'](?=[A-Za-z0-9_\"'])|(?<=[A-Za-z0-9_])[\"']"), "a quote stands against a word", ""),
    (
        ",",
        re.compile(r",(?! )"),
        "a comma without a space after it",
        "write 0.5 with a point, or a space after the comma",
    ),
    (
        "+",
        re.compile(r"(?:^|[-+*/(,<>=!]|\b(?:and|or|not|if|else)\b) *\+"),
        "a plus sign before a value",
        "leave it out",
    ),
    ("+-", re.compile(r"[+-](?: *[+-]){2}"), "three signs in a row", ""),
    (".", re.compile(r"[A-Za-z_][A-Za-z0-9_]*+\.(?=[0-9])"), "a point behind a name", ""),
    ("n", re.compile(r"\bnot(?: +not){2}\b"), "'not' three times in a row", ""),
    ("=", re.compile(r"=="), "choices are not compared with ==", "write is"),
    ("!", re.compile(r"!="), "choices are not compared with !=", "write is not"),
    ("s", re.compile(r"\bis +(?=(?:not +)?in\b)"), "is does not stand before in", "leave it out"),
    (
        "0123456789",
        re.compile(r"(?<![A-Za-z0-9_.])(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]++)?+(?=[A-Za-z_])"),
        "a number runs into a word",
        "put a space between a number and its unit, as in 0.5 thou",
    ),
)
"""What must not stand in a text: the signs of which each such has one, its form, and what is said of it."""
_HINTS = {
    "^": "powers are written **",
    "%": "it stands behind a number and a space, as in 5 %",
    "\u00b0": "write deg",
    "\u00d7": "write *",
    "\u2212": "write -",
    "\u00b7": "write *",
    "\u2264": "write <=",
    "\u2265": "write >=",
    "\u00b2": "write **2",
    "\u00b3": "write **3",
    "\u221a": "write sqrt(...)",
    "\u00b5": "write um",
    "[": "use parentheses",
    "{": "use parentheses",
    "?": "write a if condition else b",
    "&": "write and",
    "|": "write or",
}

_SLIPS = (
    (
        re.compile(r"\b(?!(?:and|or|not|if|else|is|in|where)\b)(?i:and|or|not|if|else|is|in|where)\b"),
        "and, or, not, if, else, is, in stand in small letters",
    ),
    (re.compile(r"^ *if\b|\bthen\b"), "write a if condition else b; what must hold together is joined with and"),
    (re.compile(r"<>"), "a fact is compared with is not, numbers with <, <=, > or >="),
    (re.compile(r"!(?!=)"), "write not"),
    (re.compile(r"(?<![<>=!])=(?!=)"), "numbers are compared with <, <=, > or >=, a fact with is"),
    (re.compile(r"%"), "a share of a size is a product, as in 0.25*size"),
    (re.compile(r"^ *[<>]"), "write the value alone: at_least and at_most say which way it counts"),
    (re.compile(r"\bis\b|\bin *\([^()]*\w +\w"), "a choice of more than one word stands in quotes"),
)
"""What people mean by forms that cannot be read, the first that is found."""

_WHERE = re.compile(r"\bwhere\b")
_FACT_WORDS = (
    ("is", re.compile(r"\bis +not\b"), "!="),
    ("is", re.compile(r"\bis\b"), "=="),
    ("where", _WHERE, ","),
)
"""What is written in the text that Python reads, padded to the same length: of what stands elsewhere none moves."""


class Syntax(NamedTuple):
    """A syntax tree, if the text gave one, and what is wrong with it; the nodes refused must not be used."""

    tree: ast.expr | None
    problems: tuple[Problem, ...] = ()
    refused: frozenset[ast.expr] = frozenset()


def parse(text: object) -> Syntax:
    """Read a text, and hold its tree to the grammar."""
    if type(text) is not str:
        return Syntax(None, (fault(f"an expression is text, not {type(text).__name__}"),))
    return _parsed(text)


@lru_cache(maxsize=4096)  # a pack is compiled anew with each that builds on it
def _parsed(text: str) -> Syntax:
    if _NAME.fullmatch(text) and not iskeyword(text) and text not in WORDS_OF_THE_LANGUAGE:
        return Syntax(ast.Name(text, ast.Load(), lineno=1, col_offset=0, end_lineno=1, end_col_offset=len(text)))
    if len(text) > MOST_CHARACTERS:
        return Syntax(None, (fault(f"longer than {MOST_CHARACTERS} characters", MOST_CHARACTERS + 1),))
    is_quoting = '"' in text or "'" in text
    bare = QUOTED.sub(lambda match: match[0][0] + " " * (len(match[0]) - 2) + match[0][0], text) if is_quoting else text
    written = written_quantities(bare)
    problems = (*_text_problems(text, written), *written.problems)
    if problems:
        return Syntax(None, problems)
    try:
        tree = ast.parse(_for_python(text, written), mode="eval").body
    except SyntaxError as error:
        return Syntax(None, (_syntax_problem(text, error),))
    except (ValueError, RecursionError, MemoryError):
        return Syntax(None, (fault("this cannot be read"),))
    problems = tuple(size_problems(tree))
    if problems:
        return Syntax(None, problems)
    _give_back_units(tree, written)
    astray = tuple(_give_back_conditions(tree, written))
    refused = node_problems(tree, text)
    return Syntax(tree, (*astray, *refused.values()), frozenset(refused))


def _for_python(text: str, written: Written) -> str:
    """The text as Python's parser reads it, every part at its own column."""
    for start, (_, end) in written.units.items():
        text = text[:start] + " " * (end - start) + text[end:]
    for word, form, sign in _FACT_WORDS:
        for match in form.finditer(written.text) if word in text else ():
            if text[match.start()] == match[0][0]:
                text = text[: match.start()] + sign.ljust(len(match[0])) + text[match.end() :]
    return text


def _give_back_units(tree: ast.expr, written: Written) -> None:
    """Let every number have the unit that stood behind it, and every part reach to its own end."""
    waiting = [tree] if written.units else []
    while waiting:
        node = waiting.pop()
        waiting += below(node)
        unit_and_end = written.units.get(node.end_col_offset or 0)
        if unit_and_end is not None:
            unit, node.end_col_offset = unit_and_end
            if isinstance(node, ast.Constant):
                node.kind = unit


def _give_back_conditions(tree: ast.expr, written: Written) -> Iterator[Problem]:
    """Let every call have the condition behind its `where` as such; a problem for each `where` that is elsewhere."""
    if "where" not in written.text:
        return
    waiting = {match.start() for match in _WHERE.finditer(written.text)}
    for call in [node for node in ast.walk(tree) if isinstance(node, ast.Call)] if waiting else ():
        for before, argument in pairwise(list(call.args)):
            behind = {at for at in waiting if (before.end_col_offset or 0) <= at < argument.col_offset}
            if behind and not call.keywords:
                waiting -= behind
                call.args.remove(argument)
                call.keywords.append(ast.keyword(WHERE, argument))
    for at in sorted(waiting):
        yield fault("where stands once, inside a reduction", at + 1, "as in mean(tension where side is left)")


def _text_problems(text: str, written: Written) -> Iterator[Problem]:
    if not text.strip(" "):
        yield fault("an empty expression")
    for match in _STRANGE.finditer(text):
        if any(start <= match.start() < end for start, (_, end) in written.units.items()):
            continue
        character = match[0]
        yield fault(f"the character {character!a} has no place here", match.start() + 1, _HINTS.get(character, ""))
    if text.count("(") > MOST_PARENTHESES:
        yield fault(f"more than {MOST_PARENTHESES} parentheses")
    signs = set(written.text)
    for needed, form, message, hint in _FORMS:
        for match in () if signs.isdisjoint(needed) else form.finditer(written.text):
            yield fault(message, match.start() + 1, hint)


def _syntax_problem(text: str, error: SyntaxError) -> Problem:
    hint = next((hint for form, hint in _SLIPS if form.search(text)), "")
    if not hint and text.count("(") != text.count(")"):
        hint = (
            "a parenthesis is not closed" if text.count("(") > text.count(")") else "a parenthesis too many is closed"
        )
    return fault("this cannot be read from here on", min(max(error.offset or 1, 1), len(text)), hint)
