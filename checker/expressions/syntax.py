"""Reading an expression's text: only what the grammar allows becomes a syntax tree.

This is the guard: whatever evaluates the tree later relies on nothing else having passed. The characters, sizes and
forms are checked first, on the text; then every node of the tree against a list of the node types allowed.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from keyword import iskeyword
from typing import NamedTuple

from checker.errors import Problem
from checker.expressions.problems import fault
from checker.expressions.quantities import WORDS_OF_THE_LANGUAGE, Written, written_quantities

MOST_CHARACTERS = 500
MOST_NODES = 200
MOST_CALLS = 20
MOST_NAMES = 30
MOST_PARENTHESES = 20
DEEPEST = 64
NEVER_TOO_LARGE = 2 * MOST_NAMES - 1
"""In so few characters there is no room for more of anything: a call takes three, a name two with its operator."""
LONGEST_NUMBER = 20
SMALLEST, GREATEST = 1e-12, 1e12
GREATEST_EXPONENT = 4

_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")
_STRANGE = re.compile(r"[^A-Za-z0-9_.+\-*/()<>=!, \"']")
_QUOTED = re.compile(r"\"[^\"']*\"|'[^\"']*'")
_NUMBER = re.compile(r"(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_FORMS = (
    (re.compile(r"[\"'](?=[A-Za-z0-9_\"'])|(?<=[A-Za-z0-9_])[\"']"), "a quote stands against a word", ""),
    (re.compile(r",(?! )"), "a comma without a space after it", "write 0.5 with a point, or a space after the comma"),
    (re.compile(r"(?:^|[-+*/(,<>=!]|\b(?:and|or|not|if|else)\b) *\+"), "a plus sign before a value", "leave it out"),
    (re.compile(r"[+-](?: *[+-]){2}"), "three signs in a row", ""),
    (re.compile(r"[A-Za-z_][A-Za-z0-9_]*+\.(?=[0-9])"), "a point behind a name", ""),
    (re.compile(r"\bnot(?: +not){2}\b"), "'not' three times in a row", ""),
    (re.compile(r"=="), "choices are not compared with ==", "write is"),
    (re.compile(r"!="), "choices are not compared with !=", "write is not"),
    (re.compile(r"\bis +(?=(?:not +)?in\b)"), "is does not stand before in", "leave it out"),
    (
        re.compile(r"(?<![A-Za-z0-9_.])(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]++)?+(?=[A-Za-z_])"),
        "a number runs into a word",
        "put a space between a number and its unit, as in 0.5 thou",
    ),
)
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
    "&": "write and",
    "|": "write or",
}

_FACT_WORDS = (
    (re.compile(r"\bis +not\b"), "!="),
    (re.compile(r"\bis\b"), "=="),
    (re.compile(r"\bwhere\b"), ","),
)
"""What is written in the text that Python reads, padded to the same length: of what stands elsewhere none moves."""

WHERE = "where "
"""The keyword, in a tree, under which a call has the condition that picks its stations; no text can spell it."""

_FACTS = (ast.Eq, ast.NotEq, ast.In, ast.NotIn)
_NODES = (ast.Constant, ast.Name, ast.BinOp, ast.UnaryOp, ast.BoolOp, ast.Compare, ast.IfExp, ast.Call)
_OPERATORS = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow, ast.USub, ast.Not, ast.And, ast.Or)
_DIRECTIONS = ((ast.Lt, ast.LtE), (ast.Gt, ast.GtE))


class Syntax(NamedTuple):
    """A syntax tree, if the text gave one, and what is wrong with it; the nodes refused must not be used."""

    tree: ast.expr | None
    problems: tuple[Problem, ...] = ()
    refused: frozenset[ast.expr] = frozenset()


def parse(text: object) -> Syntax:
    """Read a text, and hold its tree to the grammar."""
    if type(text) is not str:
        return Syntax(None, (fault(f"an expression is text, not {type(text).__name__}"),))
    if _NAME.fullmatch(text) and not iskeyword(text) and text not in WORDS_OF_THE_LANGUAGE:
        return Syntax(ast.Name(text, ast.Load(), lineno=1, col_offset=0, end_lineno=1, end_col_offset=len(text)))
    if len(text) > MOST_CHARACTERS:
        return Syntax(None, (fault(f"longer than {MOST_CHARACTERS} characters", MOST_CHARACTERS + 1),))
    bare = _QUOTED.sub(lambda match: match[0][0] + " " * (len(match[0]) - 2) + match[0][0], text)
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
    problems = tuple(_size_problems(tree)) if len(text) > NEVER_TOO_LARGE else ()
    if problems:
        return Syntax(None, problems)
    _give_back_units(tree, written)
    astray = tuple(_give_back_conditions(tree, written))
    found = dict(_node_problems(tree, text))
    return Syntax(tree, (*astray, *found.values()), frozenset(found))


def _for_python(text: str, written: Written) -> str:
    """The text as Python's parser reads it, every part at its own column."""
    for start, (_, end) in written.units.items():
        text = text[:start] + " " * (end - start) + text[end:]
    for form, sign in _FACT_WORDS:
        for match in form.finditer(written.text):
            if text[match.start()] == match[0][0]:
                text = text[: match.start()] + sign.ljust(len(match[0])) + text[match.end() :]
    return text


def _give_back_units(tree: ast.expr, written: Written) -> None:
    """Let every number have the unit that stood behind it, and every part reach to its own end."""
    for node in ast.walk(tree) if written.units else ():
        found = written.units.get(node.end_col_offset or 0) if isinstance(node, ast.expr) else None
        if isinstance(node, ast.expr) and found is not None:
            unit, node.end_col_offset = found
            if isinstance(node, ast.Constant):
                node.kind = unit


def _give_back_conditions(tree: ast.expr, written: Written) -> Iterator[Problem]:
    """Let every call have the condition behind its `where` as such; a problem for each `where` that is elsewhere."""
    waiting = {match.start() for match in re.finditer(r"\bwhere\b", written.text)}
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
    in_units = {at for start, (_, end) in written.units.items() for at in range(start, end)}
    for match in _STRANGE.finditer(text):
        if match.start() in in_units:
            continue
        character = match[0]
        yield fault(f"the character {character!a} has no place here", match.start() + 1, _HINTS.get(character, ""))
    if text.count("(") > MOST_PARENTHESES:
        yield fault(f"more than {MOST_PARENTHESES} parentheses")
    for form, message, hint in _FORMS:
        for match in form.finditer(written.text):
            yield fault(message, match.start() + 1, hint)


def _syntax_problem(text: str, error: SyntaxError) -> Problem:
    hint = ""
    if re.search(r"(?<![<>=!])=(?!=)", text):
        hint = "numbers are compared with <, <=, > or >=, a fact with is"
    elif "%" in text:
        hint = "a share of a size is a product, as in 0.25*size"
    elif text.lstrip().startswith(("<", ">")):
        hint = "write the value alone: at_least and at_most say which way it counts"
    elif re.search(r"\bis\b", text):
        hint = "a choice of more than one word stands in quotes"
    return fault("this cannot be read from here on", min(max(error.offset or 1, 1), len(text)), hint)


def _size_problems(tree: ast.expr) -> Iterator[Problem]:
    level = [tree]
    every: list[ast.expr] = []
    depth = 0
    while level:
        every += level
        depth += 1
        level = [child for node in level for child in _below(node)]
    names = {node.id for node in every if isinstance(node, ast.Name)}
    calls = [node for node in every if isinstance(node, ast.Call)]
    sizes = ((len(every), MOST_NODES, "parts"), (depth, DEEPEST, "levels"))
    for found, most, what in (*sizes, (len(calls), MOST_CALLS, "calls"), (len(names), MOST_NAMES, "names")):
        if found > most:
            yield fault(f"{found} {what}, at most {most}")


def _node_problems(node: ast.expr, text: str, quote_allowed: bool = False) -> Iterator[tuple[ast.expr, Problem]]:
    """What the grammar does not allow, in a node and below; nothing below a node that is refused."""
    column = node.col_offset + 1
    source = text[node.col_offset : node.end_col_offset]
    if not isinstance(node, _NODES):
        yield node, fault(f"{source!r} has no place in an expression", column)
        return
    message = _refusal(node, source, quote_allowed)
    if message:
        yield node, fault(message, column)
        return
    for child in _operands(node):
        yield from _node_problems(child, text, _may_be_quoted(node, child))


def _below(node: ast.expr) -> Sequence[ast.expr]:
    """The parts right below a node; what has no place in an expression counts as one part, and will be refused."""
    match node:
        case ast.Call():
            return [node.func, *_operands(node)]
        case ast.Compare():
            return [node.left, *node.comparators]
        case ast.Tuple():
            return node.elts
    return _operands(node)


def _operands(node: ast.expr) -> Sequence[ast.expr]:
    """What a node that is allowed calculates with: everything below it but names of functions and of choices."""
    match node:
        case ast.BinOp():
            return node.left, node.right
        case ast.Call():
            return [*node.args, *(keyword.value for keyword in node.keywords)]
        case ast.Compare():
            return (node.left,) if isinstance(node.ops[0], _FACTS) else (node.left, *node.comparators)
        case ast.UnaryOp():
            return (node.operand,)
        case ast.BoolOp():
            return node.values
        case ast.IfExp():
            return node.test, node.body, node.orelse
    return ()


def _refusal(node: ast.expr, source: str, quote_allowed: bool) -> str:
    match node:
        case ast.Constant():
            return _constant_refusal(node, source, quote_allowed)
        case ast.BinOp(op=ast.Pow()):
            return _exponent_refusal(node.right) or _powered_refusal(node)
        case ast.BinOp(op=operator) | ast.UnaryOp(op=operator) | ast.BoolOp(op=operator):
            return "" if isinstance(operator, _OPERATORS) else f"the operator in {source!r} is not one of + - * / **"
        case ast.Compare():
            return _comparison_refusal(node, source)
        case ast.Call():
            if not isinstance(node.func, ast.Name):
                return f"{source!r} does not call a function by its name"
            named = any(keyword.arg != WHERE for keyword in node.keywords)
            return f"{source!r} names an argument" if named else ""
    return ""


def _constant_refusal(node: ast.Constant, source: str, quote_allowed: bool) -> str:
    if isinstance(node.value, str):
        allowed = quote_allowed and _QUOTED.fullmatch(source)
        return "" if allowed else "a quoted text is a choice behind is or in, or stands behind a comma"
    value, source = _number(node), source.partition(" ")[0]
    if value is None or not _NUMBER.fullmatch(source) or len(source) > LONGEST_NUMBER:
        return f"{source!r} is not a plain number"
    if value and not SMALLEST <= value <= GREATEST:
        return f"{source} is not between {SMALLEST:g} and {GREATEST:g}"
    return ""


def _exponent_refusal(exponent: ast.expr) -> str:
    if isinstance(exponent, ast.UnaryOp) and isinstance(exponent.op, ast.USub):
        exponent = exponent.operand
    value = None if getattr(exponent, "kind", None) else _number(exponent)
    if value is not None and 0 < value <= GREATEST_EXPONENT:
        return ""
    return f"an exponent is a number as written, from -{GREATEST_EXPONENT} to {GREATEST_EXPONENT} and not 0"


def _number(node: ast.expr) -> int | float | None:
    """The number as written; True is not one."""
    value = node.value if isinstance(node, ast.Constant) else None
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _powered_refusal(node: ast.BinOp) -> str:
    """A power of a quantity: of the number, or of its unit too?"""
    is_bare = isinstance(node.left, ast.Constant) and node.left.kind and node.left.col_offset == node.col_offset
    return "what the power is of is put in parentheses, as in (2 in)**2, or the unit is a square one" if is_bare else ""


def _comparison_refusal(node: ast.Compare, source: str) -> str:
    operators = node.ops
    if any(isinstance(operator, _FACTS) for operator in operators):
        return _fact_refusal(node, source)
    if any(all(isinstance(operator, direction) for operator in operators) for direction in _DIRECTIONS):
        return "" if len(operators) <= 2 else "more than two comparisons in a chain"
    return "comparisons in a chain are all < and <=, or all > and >="


def _fact_refusal(node: ast.Compare, source: str) -> str:
    if len(node.ops) > 1:
        return f"{source!r} compares more than one fact with one thing: join comparisons with and"
    behind = node.comparators[0]
    if isinstance(node.ops[0], (ast.Eq, ast.NotEq)):
        is_choice = _is_choice(behind, node, source)
        return "" if is_choice else "behind is stands one choice: a single word, or what is in quotes"
    listed = isinstance(behind, ast.Tuple) and behind.elts and all(_is_choice(one, node, source) for one in behind.elts)
    return "" if listed else "behind in stand choices in parentheses, as in (petrol, e85); of one, write is"


def _is_choice(node: ast.expr, within: ast.Compare, source: str) -> bool:
    if isinstance(node, ast.Name):
        return True
    written = source[node.col_offset - within.col_offset : (node.end_col_offset or 0) - within.col_offset]
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and bool(_QUOTED.fullmatch(written))


def _may_be_quoted(node: ast.expr, child: ast.expr) -> bool:
    """Whether a quoted text may stand here: the station set of a reduction."""
    return isinstance(node, ast.Call) and len(node.args) == 2 and child is node.args[1]
