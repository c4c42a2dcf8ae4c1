"""Expressions: the small language in which packs calculate.

The grammar, in the notation of ISO/IEC 14977; every line is tested as it stands here:

    expression  = condition | number ;
    condition   = conjunction , { " or " , conjunction } ;
    conjunction = negation , { " and " , negation } ;
    negation    = [ "not " ] , comparison ;
    comparison  = ascending | descending | fact | test | "(" , condition , ")" ;
    ascending   = sum , up , sum , [ up , sum ] ;
    descending  = sum , down , sum , [ down , sum ] ;
    up          = " < " | " <= " ;
    down        = " > " | " >= " ;
    fact        = name , " is " , [ "not " ] , choice | name , [ " not" ] , " in (" , choice , more , { more } , ")" ;
    more        = ", " , choice ;
    choice      = word | quoted ;
    test        = predicate , "(" , name , ")" | "known(" , fact , ")" ;
    number      = sum | sum , " if " , condition , " else " , number ;
    sum         = product , { ( " + " | " - " ) , product } ;
    product     = factor , { ( "*" | "/" ) , factor } ;
    factor      = [ "-" ] , power ;
    power       = quantity | atom , [ "**" , [ "-" ] , exponent ] ;
    atom        = figure | name | call | "(" , number , ")" ;
    quantity    = figure , " " , unit , [ " per " , unit ] ;
    call        = function , "(" , number , { ", " , number } , ")" | reading , "(" , name , ")" | special ;
    special     = neighbour | reduction | several ;
    several     = known_only , "(" , name , ", " , name , { ", " , name } , ")" ;
    neighbour   = ( "next(" | "previous(" ) , number , ")" ;
    reduction   = across , "(" , number , [ where ] , [ set ] , ")" | "count(" , condition , [ where ] , [ set ] , ")" ;
    where       = " where " , condition ;
    set         = ", " , quoted ;

A `figure` is a plain decimal number, an `exponent` one up to 4. A `name` is that of a characteristic, a constant or
`pi`; behind `is` a `word` is a choice of the fact before it, or else another fact with the same choices. `quoted` is a
choice, or the station set whose stations each get a result of their own. A zero without a unit is a zero of any unit.
A quantity is one value: `x/2 mm` divides by 2 mm. Spaces are free. At most 500 characters, 200 parts, 64 levels.

Dimensions, stations and ranges are checked when an expression is compiled. A value at a station sees the values of the
stations it belongs to and of the assembly. Where a division, root or logarithm could fail within the plausible ranges,
the part in danger is compared first, in the same words: `a / b if b > 0 else a`.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping

from checker.expressions import truth
from checker.expressions.calls import call_term
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.expressions.parts import (
    arithmetic_term,
    boolean_term,
    comparison_term,
    conditional_term,
    constant_term,
    name_term,
    unary_term,
)
from checker.expressions.problems import ExpressionError
from checker.expressions.steps import program_of, step
from checker.expressions.syntax import parse
from checker.expressions.terms import Nature, Term, there_is
from checker.expressions.walk import Meaning, Walk
from checker.units.dimensions import DIMENSIONLESS

_MEANINGS: Mapping[type[ast.expr], Meaning] = {
    ast.Constant: constant_term,
    ast.Name: name_term,
    ast.UnaryOp: unary_term,
    ast.BinOp: arithmetic_term,
    ast.Compare: comparison_term,
    ast.BoolOp: boolean_term,
    ast.IfExp: conditional_term,
    ast.Call: call_term,
}


def compile_expression(text: str, scope: Scope) -> Expression:
    """Check an expression against what it may name; raises ExpressionError with all that is wrong."""
    text = text.strip(" ") if isinstance(text, str) else text
    syntax = parse(text)
    if syntax.tree is None:
        raise ExpressionError(syntax.problems)
    walk = Walk(text, scope, _MEANINGS, syntax.refused)
    term = walk.term(syntax.tree)
    if syntax.problems or walk.problems or term.nature is None:
        raise ExpressionError([*syntax.problems, *walk.problems])
    return _expression(text, walk, term, term.nature)


def _expression(text: str, walk: Walk, term: Term, nature: Nature) -> Expression:
    return Expression(
        text=text,
        nature=nature,
        dimension=(DIMENSIONLESS if term.dimension is None else term.dimension) if nature == "number" else None,
        stations=term.stations,
        low=term.interval.low,
        high=term.interval.high,
        program=program_of(walk.read(term, term.stations)),
        across=frozenset(walk.across),
        names=frozenset(walk.names),
        ends=term.ends,
        neighbours=tuple(walk.neighbours),
    )


def where_neighbours_are(judged: Expression, when: str | None, scope: Scope) -> Expression:
    """The condition that all neighbours are there which an expression reads, and a checked one holds besides."""
    walk = Walk(when or "", scope, _MEANINGS)
    tree = parse(when).tree if when is not None else None
    terms = [there_is(wanted) for wanted in judged.neighbours]
    terms += [walk.term(tree)] if tree is not None else []
    trees = [walk.read(term, judged.stations) for term in terms]
    term = Term("truth", step(truth.all_of, *trees), stations=judged.stations)
    words = [f"there is a {_STEPS[wanted.step]} {wanted.stations}" for wanted in judged.neighbours]
    return _expression(" and ".join([*words, *([f"({when})"] if when else [])]), walk, term, "truth")


_STEPS = {1: "next", -1: "previous"}
