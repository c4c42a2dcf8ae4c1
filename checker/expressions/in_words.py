"""An expression as people say it: titles for names, words for comparisons and for what is known."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping

from checker.expressions.grammar import WHERE
from checker.expressions.syntax import parse

Title = Callable[[str], str]
"""What people call a name of a pack."""

_SIGNS: Mapping[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "x", ast.Div: "/"}
_QUOTES = "\"'"
_POWERS = {"2": "squared", "3": "cubed"}
_COMPARED: Mapping[type[ast.cmpop], str] = {
    ast.Lt: "under",
    ast.LtE: "at most",
    ast.Gt: "over",
    ast.GtE: "at least",
}
_TURNED: Mapping[type[ast.cmpop], str] = {ast.Lt: "over", ast.LtE: "at least", ast.Gt: "under", ast.GtE: "at most"}
_CALLS = {
    "measured": "{} as measured",
    "computed": "{} as computed",
    "next": "the next {}",
    "previous": "the previous {}",
    "count": "the number where {}",
    "abs": "size of {}",
    "sqrt": "square root of {}",
    "smaller_of": "the smaller of {}",
    "larger_of": "the larger of {}",
    "between_angles": "the angle between {}",
    "least_known": "the least known of {}",
    "greatest_known": "the greatest known of {}",
    "mean_known": "the mean of those known of {}",
}
"""Calls that are said otherwise than as "spread of shaft diameter"."""


def in_words(text: str, title: Title) -> str:
    """What an expression says; one that cannot be read stays as it is."""
    tree = parse(text).tree
    return text if tree is None else _Said(text, title).part(tree)


class _Said:
    """One expression, and what its names are called."""

    def __init__(self, text: str, title: Title) -> None:
        self.text = text
        self.title = title

    def part(self, node: ast.expr) -> str:
        """Any part of it."""
        match node:
            case ast.Name(name):
                return self.title(name)
            case ast.UnaryOp(ast.Not(), operand):
                return self.denied(operand)
            case ast.UnaryOp(_, operand):
                return f"-{self.inside(operand)}"
            case ast.BinOp():
                return self.calculated(node)
            case ast.BoolOp(joint, values):
                word = " and " if isinstance(joint, ast.And) else " or "
                return word.join(self.inside(value, ast.BoolOp) for value in values)
            case ast.IfExp(test, body, orelse):
                return f"{self.part(body)} if {self.part(test)}, else {self.part(orelse)}"
            case ast.Compare():
                return self.compared(node)
            case ast.Call():
                return self.called(node)
        return self.source(node)

    def source(self, node: ast.expr) -> str:
        """As it was written."""
        return self.text[node.col_offset : node.end_col_offset]

    def inside(self, node: ast.expr, *more: type[ast.expr]) -> str:
        """A part inside another; what could be misread there stands in parentheses."""
        words = self.part(node)
        return f"({words})" if isinstance(node, (ast.IfExp, *more)) else words

    def calculated(self, node: ast.BinOp) -> str:
        sides = [self.inside(side, ast.BoolOp) for side in (node.left, node.right)]
        binds = _binds(node)
        for number, side in enumerate((node.left, node.right)):
            if _binds(side) < binds or (number and _binds(side) == binds and isinstance(node.op, (ast.Sub, ast.Div))):
                sides[number] = f"({sides[number]})"
        if isinstance(node.op, ast.Pow):
            return f"{sides[0]} {_POWERS.get(sides[1], f'to the power {sides[1]}')}"
        return f"{sides[0]} {_SIGNS[type(node.op)]} {sides[1]}"

    def denied(self, node: ast.expr) -> str:
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "known":
            return self.known(node, "is not known")
        return f"not ({self.part(node)})"

    def compared(self, node: ast.Compare) -> str:
        first, behind = self.inside(node.left), node.comparators
        match node.ops[0]:
            case ast.Eq() | ast.In():
                return f"{first} is {self.choices(behind[0])}"
            case ast.NotEq() | ast.NotIn():
                return f"{first} is not {self.choices(behind[0])}"
        parts = [f"{_COMPARED[type(sign)]} {self.inside(other)}" for sign, other in zip(node.ops, behind, strict=True)]
        if len(parts) == 1:
            return f"{first} is {parts[0]}"
        one_end = f"{_TURNED[type(node.ops[0])]} {first}"
        return f"{self.inside(behind[0])} is {one_end} and {_COMPARED[type(node.ops[1])]} {self.inside(behind[1])}"

    def choices(self, node: ast.expr) -> str:
        """Choices in quotes, as they stand on the sheet, or another fact."""
        if isinstance(node, ast.Name) and "_" in node.id:
            return self.title(node.id)
        names = map(self.source, node.elts if isinstance(node, ast.Tuple) else [node])
        return " or ".join(f'"{name.strip(_QUOTES)}"' for name in names)

    def known(self, node: ast.Call, verb: str) -> str:
        asked = node.args[0]
        if isinstance(asked, ast.Compare):
            return f"it {verb} that {self.part(asked)}"
        return f"{self.part(asked)} {verb}"

    def called(self, node: ast.Call) -> str:
        name = node.func.id if isinstance(node.func, ast.Name) else self.source(node.func)
        if name == "known":
            return self.known(node, "is known")
        if name == "abs" and isinstance(node.args[0], ast.BinOp) and isinstance(node.args[0].op, ast.Sub):
            return f"the difference between {self.part(node.args[0].left)} and {self.part(node.args[0].right)}"
        sets = [given for given in node.args if isinstance(given, ast.Constant) and isinstance(given.value, str)]
        arguments = " and ".join(self.part(given) for given in node.args if given not in sets)
        words = _CALLS.get(name, f"{self.title(name)} of {{}}").format(arguments)
        picked = "".join(f" where {self.part(keyword.value)}" for keyword in node.keywords if keyword.arg == WHERE)
        each = "".join(f" for each {self.title(str(named.value))}" for named in sets)
        return f"{words}{picked}{each}"


def _binds(node: ast.expr) -> int:
    """How tightly a calculation holds its parts together; what is none is not parted by any."""
    if not isinstance(node, ast.BinOp):
        return 4
    return 1 if isinstance(node.op, (ast.Add, ast.Sub)) else 2 if isinstance(node.op, (ast.Mult, ast.Div)) else 3
