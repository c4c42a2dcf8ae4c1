"""Reading an expression's text: only what the grammar allows becomes a syntax tree.

This is the guard: whatever evaluates the tree later relies on nothing else having passed. The characters, sizes and
forms are checked first, on the text; then every node of the tree against a list of the node types allowed.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from keyword import iskeyword
from typing import NamedTuple

from checker.errors import Place, Problem

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
    (
        re.compile(r"(?<![A-Za-z0-9_.])(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]++)?+(?=[A-Za-z_])"),
        "a number runs into a word",
        "put * between a number and a unit, as in 0.5*thou",
    ),
)
_HINTS = {
    "^": "powers are written **",
    "%": "write 5 % as 0.05",
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
    if _NAME.fullmatch(text) and not iskeyword(text):
        return Syntax(ast.Name(text, ast.Load(), lineno=1, col_offset=0, end_lineno=1, end_col_offset=len(text)))
    problems = tuple(_text_problems(text))
    if problems:
        return Syntax(None, problems)
    try:
        tree = ast.parse(text, mode="eval").body
    except SyntaxError as error:
        return Syntax(None, (_syntax_problem(text, error),))
    except (ValueError, RecursionError, MemoryError):
        return Syntax(None, (fault("this cannot be read"),))
    problems = tuple(_size_problems(tree)) if len(text) > NEVER_TOO_LARGE else ()
    if problems:
        return Syntax(None, problems)
    found = dict(_node_problems(tree, text))
    return Syntax(tree, tuple(found.values()), frozenset(found))


def fault(message: str, column: int = 1, hint: str = "") -> Problem:
    """A problem at a column of the expression, counted from 1."""
    return Problem(message, Place("expression", 1, column), hint)


def _text_problems(text: str) -> Iterator[Problem]:
    if len(text) > MOST_CHARACTERS:
        yield fault(f"longer than {MOST_CHARACTERS} characters", MOST_CHARACTERS + 1)
        return
    if not text.strip(" "):
        yield fault("an empty expression")
    for match in _STRANGE.finditer(text):
        character = match[0]
        yield fault(f"the character {character!a} has no place here", match.start() + 1, _HINTS.get(character, ""))
    if text.count("(") > MOST_PARENTHESES:
        yield fault(f"more than {MOST_PARENTHESES} parentheses")
    bare = _QUOTED.sub(lambda match: match[0][0] + " " * (len(match[0]) - 2) + match[0][0], text)
    for form, message, hint in _FORMS:
        for match in form.finditer(bare):
            yield fault(message, match.start() + 1, hint)


def _syntax_problem(text: str, error: SyntaxError) -> Problem:
    hint = ""
    if re.search(r"\bin\b", text):
        hint = "the unit is called inch here"
    elif re.search(r"(?<![<>=!])=(?!=)", text):
        hint = "a comparison is <, <=, >, >=, == or !="
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
    return [node.func, *node.args] if isinstance(node, ast.Call) else _operands(node)


def _operands(node: ast.expr) -> Sequence[ast.expr]:
    """What a node that is allowed calculates with: everything below it but the name of a function."""
    match node:
        case ast.BinOp():
            return node.left, node.right
        case ast.Call():
            return node.args
        case ast.Compare():
            return node.left, *node.comparators
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
            return _exponent_refusal(node.right)
        case ast.BinOp(op=operator) | ast.UnaryOp(op=operator) | ast.BoolOp(op=operator):
            return "" if isinstance(operator, _OPERATORS) else f"the operator in {source!r} is not one of + - * / **"
        case ast.Compare():
            return _comparison_refusal(node)
        case ast.Call():
            if not isinstance(node.func, ast.Name):
                return f"{source!r} does not call a function by its name"
            return f"{source!r} names an argument" if node.keywords else ""
    return ""


def _constant_refusal(node: ast.Constant, source: str, quote_allowed: bool) -> str:
    if isinstance(node.value, str):
        allowed = quote_allowed and _QUOTED.fullmatch(source)
        return "" if allowed else "a quoted text stands only after ==, != or a comma"
    value = _number(node)
    if value is None or not _NUMBER.fullmatch(source) or len(source) > LONGEST_NUMBER:
        return f"{source!r} is not a plain number"
    if value and not SMALLEST <= value <= GREATEST:
        return f"{source} is not between {SMALLEST:g} and {GREATEST:g}"
    return ""


def _exponent_refusal(exponent: ast.expr) -> str:
    if isinstance(exponent, ast.UnaryOp) and isinstance(exponent.op, ast.USub):
        exponent = exponent.operand
    value = _number(exponent)
    if value is not None and 0 < value <= GREATEST_EXPONENT:
        return ""
    return f"an exponent is a number as written, from -{GREATEST_EXPONENT} to {GREATEST_EXPONENT} and not 0"


def _number(node: ast.expr) -> int | float | None:
    """The number as written; True is not one."""
    value = node.value if isinstance(node, ast.Constant) else None
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _comparison_refusal(node: ast.Compare) -> str:
    operators = node.ops
    if all(isinstance(operator, (ast.Eq, ast.NotEq)) for operator in operators):
        return "" if len(operators) == 1 else "== and != stand alone"
    if any(all(isinstance(operator, direction) for operator in operators) for direction in _DIRECTIONS):
        return "" if len(operators) <= 2 else "more than two comparisons in a chain"
    return "comparisons in a chain are all < and <=, or all > and >="


def _may_be_quoted(node: ast.expr, child: ast.expr) -> bool:
    """Whether a quoted text may stand here: a choice after == or !=, the station set of a reduction."""
    if isinstance(node, ast.Compare):
        return isinstance(node.ops[0], (ast.Eq, ast.NotEq)) and child is node.comparators[0]
    return isinstance(node, ast.Call) and len(node.args) == 2 and child is node.args[1]
