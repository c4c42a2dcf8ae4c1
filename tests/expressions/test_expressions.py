"""The language of expressions: its grammar, what it refuses, and what it makes of what it accepts."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import pint
import pytest
from examples import examples
from expression_tools import ANGLE, ENGINE, LENGTH, MASS, number, scope_of, symbol, value_of
from hypothesis import given
from hypothesis import strategies as st
from pint_registry import REGISTRY
from places import DATA

from checker.errors import Place
from checker.expressions import compiling
from checker.expressions.compiling import compile_expression
from checker.expressions.expression import Expression
from checker.expressions.grammar import MOST_CALLS, MOST_NAMES
from checker.expressions.names import Column, Constant, Scope, Symbol
from checker.expressions.problems import ExpressionError
from checker.expressions.syntax import MOST_CHARACTERS, parse
from checker.units.dimensions import DIMENSIONLESS, dimension_of, multiply, power

PLAIN = scope_of(
    number("bore", 1, 10),
    number("stroke", 1, 10),
    number("x", 0.5, 2),
    number("deck", 0, 1),
    Symbol("alloy", None, None, 0, 2, choices=("cast", "4032", "2618")),
)
CORPUS = [line.split("\t") for line in (DATA / "expressions.txt").read_text().splitlines() if not line.startswith("#")]


def problems_of(text: object, scope: Scope = ENGINE) -> list[str]:
    with pytest.raises(ExpressionError) as caught:
        compile_expression(text, scope)  # type: ignore[arg-type]
    return [str(problem) for problem in caught.value.problems]


def compiled(text: str, scope: Scope = ENGINE) -> Expression:
    return compile_expression(text, scope)


class TestCorpus:
    @pytest.mark.parametrize(
        "text", [json.loads(text) for expectation, text, _ in CORPUS if expectation == "REJECT"], ids=ascii
    )
    def test_refused_with_a_column(self, text: str) -> None:
        with pytest.raises(ExpressionError) as caught:
            compile_expression(text, PLAIN)
        for problem in caught.value.problems:
            assert problem.place is not None
            assert problem.place.column is not None
            assert 1 <= problem.place.column <= len(text) + 1
            assert str(problem).isascii()
            assert str(problem).isprintable()

    @pytest.mark.parametrize(
        ("expectation", "text"), [(kind, json.loads(text)) for kind, text, _ in CORPUS if kind != "REJECT"]
    )
    def test_accepted_with_its_value(self, expectation: str, text: str) -> None:
        found = value_of(text, PLAIN, bore=4.03, stroke=3.48, x=1.0, deck=0.01, alloy=0.0)
        assert found.item() == pytest.approx(float(expectation.removeprefix("VALUE ")), rel=1e-5)

    @pytest.mark.parametrize("thing", [None, 1, 1.5, True, b"bore", ["bore"], {"bore": 1}, pint])
    def test_what_is_not_text_is_refused(self, thing: object) -> None:
        assert "an expression is text" in problems_of(thing, PLAIN)[0]


@given(st.text(max_size=60))
def test_no_text_raises_anything_else(text: str) -> None:
    _try(text)


SOUP = "bore stroke x alloy deck 1 2.5 0 + - * / ** ( ) < <= == != and or not if else , sqrt( spread( 'cast' \"4032\" ."
SOUP += " is where next( mean( in per in2 5 thou"
SOUP += " thou known( pi 1e3 _ __ for in lambda [ ] : ; yield await is % // = := \\ # @ count( , e 0x1 1_0"


@examples(400)
@given(st.lists(st.sampled_from(SOUP.split()), max_size=14), st.sampled_from(["", " "]))
def test_no_heap_of_words_raises_anything_else(words: list[str], between: str) -> None:
    _try(between.join(words))


def _try(text: str) -> None:
    try:
        found = compile_expression(text, PLAIN)
    except ExpressionError as error:
        assert error.problems
    else:
        assert found.nature in ("number", "truth", "choice")


# --- the grammar as it stands in the module -----------------------------------------------------------------------

_TOKEN = re.compile(r'"[^"]*"|[a-z_]+|[=;,|()\[\]{}]')
_LINE = re.compile(r"^    ([a-z_]+) +(= .* ;)$", re.MULTILINE)
RULES = {name: _TOKEN.findall(line)[1:-1] for name, line in _LINE.findall(compiling.__doc__ or "")}
WORDS = {
    "name": ["bore", "stroke", "pi", "thou"],
    "figure": ["1", "2.5", ".5", "0.125", "1e3"],
    "exponent": ["1", "2", "0.5", "4"],
    "function": ["sqrt", "hypot", "interpolate"],
    "reading": ["least_reading", "measured"],
    "predicate": ["known", "rises"],
    "across": ["spread", "total"],
    "quoted": ['"cast"', "'crankpin'"],
    "word": ["cast", "alloy"],
    "unit": ["thou", "lb-ft", "%", "mm"],
    "known_only": ["least_known", "mean_known"],
}


@dataclass
class Sampler:
    """Writes sentences of the grammar; notes which alternatives it has taken."""

    choice: random.Random
    taken: set[tuple[str, int]]

    def sentence(self, rule: str, depth: int) -> str:
        if rule in WORDS:
            return self.choice.choice(WORDS[rule])
        options = list(_split(RULES[rule], "|"))
        deep = depth > 12
        number = 0 if deep else self.choice.randrange(len(options))
        if deep and rule == "atom":
            number = self.choice.randrange(2)
        if deep and rule == "comparison":
            number = 3
        self.taken.add((rule, number))
        return self._sequence(options[number], depth + 1)

    def _sequence(self, tokens: list[str], depth: int) -> str:
        return "".join(self._item(item, depth) for item in _split(tokens, ","))

    def _item(self, item: list[str], depth: int) -> str:
        if len(item) == 1:
            return item[0].strip('"') if item[0].startswith('"') else self.sentence(item[0], depth)
        inner = item[1:-1]
        times = {"[": (0, 1), "{": (0, 2), "(": (1, 1)}[item[0]]
        count = times[0] if depth > 12 else self.choice.randint(*times)
        return "".join(self._sequence(self.choice.choice(list(_split(inner, "|"))), depth) for _ in range(count))


def _split(words: list[str], mark: str) -> Iterator[list[str]]:
    part: list[str] = []
    depth = 0
    for word in words:
        depth += (word in "([{") - (word in ")]}")
        if word == mark and depth == 0:
            yield part
            part = []
        else:
            part.append(word)
    yield part


@pytest.mark.slow
def test_every_sentence_of_the_grammar_can_be_read() -> None:
    sampler = Sampler(random.Random(7), set())  # noqa: S311
    read = 0
    for _ in range(1000):
        text = sampler.sentence("expression", 0)
        syntax = parse(text)
        sizes = [problem.message for problem in syntax.problems]
        if not all("more than" in message or "at most" in message or "longer" in message for message in sizes):
            raise AssertionError(f"{text!r}: {sizes}")
        read += not sizes
    assert read > 500
    assert sampler.taken == {(name, number) for name in RULES for number in range(len(list(_split(RULES[name], "|"))))}


@pytest.mark.parametrize("rule", sorted(RULES))
def test_the_grammar_refers_to_itself_only(rule: str) -> None:
    for word in RULES[rule]:
        assert word.startswith('"') or not word.replace("_", "").isalpha() or word in RULES or word in WORDS


# --- limits of size ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("within", "beyond"),
    [
        ("x" + " " * (MOST_CHARACTERS - 3) + "+x", "x" + " " * (MOST_CHARACTERS - 2) + "+x"),
        ("+".join(["x"] * 60), "+".join(["x"] * 66)),
        (" + ".join(["abs(x)"] * MOST_CALLS), " + ".join(["abs(x)"] * (MOST_CALLS + 1))),
        ("(" * 20 + "x" + ")" * 20, "(" * 21 + "x" + ")" * 21),
        ("x * 1000000000000", "x * 1000000000001"),
        ("x * 0.000000000001", "x * 0.0000000000009"),
        ("x * 1.000000000000000000", "x * 1.0000000000000000000"),
        ("x**4", "x**4.1"),
        ("x**-4", "x**-4.1"),
    ],
)
def test_limits_hold_exactly(within: str, beyond: str) -> None:
    assert compiled(within, PLAIN).nature == "number"
    problems_of(beyond, PLAIN)


def test_the_number_of_names_is_limited() -> None:
    many = scope_of(*(number(f"a{count}", 0, 1) for count in range(MOST_NAMES + 1)))
    compiled("+".join(f"a{count}" for count in range(MOST_NAMES)), many)
    assert "31 names" in problems_of("+".join(f"a{count}" for count in range(MOST_NAMES + 1)), many)[0]


# --- dimensions ---------------------------------------------------------------------------------------------------

DIMENSIONS = [
    ("main_bearing_bore - main_journal_diameter", LENGTH),
    ("0.0010*main_journal_diameter + 0.5 thou", LENGTH),
    ("main_bearing_bore / main_journal_diameter", DIMENSIONLESS),
    ("cylinder_bore**2 * pi/4 * stroke", power(LENGTH, 3)),
    ("sqrt(stroke**2 + cylinder_bore**2)", LENGTH),
    ("sqrt(stroke)", power(LENGTH, 0.5)),
    ("stroke**0.5", power(LENGTH, 0.5)),
    ("sin(intake_centreline)", DIMENSIONLESS),
    ("asin(0.5)", ANGLE),
    ("intake_centreline / 1 rad", DIMENSIONLESS),
    ("stroke * intake_centreline / 1 rad", LENGTH),
    ("2*pi*head_bolt_torque*100 rpm", dimension_of("W")),
    ("count(cylinder_bore > 4 in)", DIMENSIONLESS),
    ("total(rod_mass)", MASS),
    ("0", DIMENSIONLESS),
    ("0 in", LENGTH),
    ("stroke if stroke > 0 else 0", LENGTH),
    ("smaller_of(stroke, 0)", LENGTH),
    ("coolant_temperature - 300 K", dimension_of("K")),
    ("least_reading(cylinder_bore)", LENGTH),
    ("count_of_readings(cylinder_bore)", DIMENSIONLESS),
    ("10 N*stroke", multiply(dimension_of("N"), LENGTH)),
    ("stroke < 4 in", None),
]


@pytest.mark.parametrize(("text", "dimension"), DIMENSIONS)
def test_dimension(text: str, dimension: object) -> None:
    assert compiled(text).dimension == dimension


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("stroke + 1", ["length and bare number cannot be added"]),
        ("stroke - rod_mass", ["length and mass cannot be subtracted"]),
        ("stroke < rod_mass", ["length and mass cannot be compared"]),
        ("smaller_of(stroke, rod_mass)", ["length and mass cannot be used together"]),
        ("interpolate(stroke, 1 kg, 2, 3 kg, 4)", ["length and mass"]),
        ("interpolate(stroke, 1 in, 2, 3 in, 4 kg)", ["bare number and mass"]),
        ("intake_centreline + 0.5", ["angle and bare number", "divide the angle by 1 rad"]),
        ("sin(0.5)", ["sin takes angle, 0.5 is bare number", "multiply by 1 rad or 1 deg"]),
        ("sin(stroke)", ["sin takes angle, stroke is length"]),
        ("exp(stroke)", ["exp takes bare number, stroke is length"]),
        ("floor(stroke)", ["floor takes bare number"]),
        ("coolant_temperature > 0", ["a temperature of 0 needs its unit", "0 K"]),
        ("stroke if stroke > 1 in else rod_mass", ["length and mass"]),
    ],
)
def test_dimensions_that_do_not_fit(text: str, words: list[str]) -> None:
    found = problems_of(text)
    assert len(found) == 1
    for word in words:
        assert word in found[0]


QUANTITIES = {
    "a": (symbol("a", "m", None, 0.5, 2.0), REGISTRY.Quantity(1.5, "m")),
    "b": (symbol("b", "kg", None, 0.5, 2.0), REGISTRY.Quantity(1.25, "kg")),
    "c": (symbol("c", "s", None, 0.5, 2.0), REGISTRY.Quantity(0.75, "s")),
    "d": (number("d", 0.5, 2.0), REGISTRY.Quantity(1.0, "")),
    "p": (symbol("p", "psi", None, 0.5, 2.0), REGISTRY.Quantity(1.0, "Pa")),
}
MIXED = scope_of(*(item for item, _ in QUANTITIES.values()))
Worked = tuple[str, Callable[[], object]]

leaves: st.SearchStrategy[Worked] = st.sampled_from(
    [(name, lambda quantity=quantity: quantity) for name, (_, quantity) in QUANTITIES.items()]
)


def _grown(children: st.SearchStrategy[Worked]) -> st.SearchStrategy[Worked]:
    pairs = st.tuples(children, children)
    return st.one_of(
        pairs.map(lambda two: (f"({two[0][0]} + {two[1][0]})", lambda: two[0][1]() + two[1][1]())),
        pairs.map(lambda two: (f"({two[0][0]} * {two[1][0]})", lambda: two[0][1]() * two[1][1]())),
        pairs.map(lambda two: (f"({two[0][0]} / {two[1][0]})", lambda: two[0][1]() / two[1][1]())),
        children.map(lambda one: (f"({one[0]}**2)", lambda: one[1]() ** 2)),
        children.map(lambda one: (f"sqrt({one[0]})", lambda: one[1]() ** 0.5)),
        pairs.map(lambda two: (f"larger_of({two[0][0]}, {two[1][0]})", lambda: two[0][1]() + two[1][1]())),
    )


@examples(150)
@given(st.recursive(leaves, _grown, max_leaves=6))
def test_dimensions_agree_with_a_reference_library(worked: Worked) -> None:
    """pint with its own full unit file is the reference; sums of positive values only, so that no range refuses."""
    text, calculate = worked
    try:
        expected = calculate().dimensionality  # type: ignore[attr-defined]
    except pint.DimensionalityError:
        assert all("cannot be" in problem for problem in problems_of(text, MIXED))
        return
    found = compiled(text, MIXED).dimension
    assert found is not None
    assert dict(found) == {
        name.strip("[]"): Fraction(exponent).limit_denominator(64) for name, exponent in expected.items() if exponent
    }


# --- stations -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "stations"),
    [
        ("main_bearing_bore - main_journal_diameter", "main"),
        ("main_journal_diameter + stroke", "main"),
        ("intake_valve_lift / cylinder_bore", "intake-valve"),
        ("cylinder_bore > 1 in and intake_valve_lift < 1 in", "intake-valve"),
        ("spread(main_journal_diameter)", None),
        ('total(rod_width, "crankpin")', "crankpin"),
        ('crankpin_width - total(rod_width, "crankpin")', "crankpin"),
        ('greatest(intake_valve_lift, "cylinder") - greatest(exhaust_valve_lift, "cylinder")', "cylinder"),
        ("rod_width - total(rod_width)", "rod"),
        ("stroke", None),
        ("piston_alloy is cast", "cylinder"),
    ],
)
def test_stations(text: str, stations: str | None) -> None:
    assert compiled(text).stations == stations


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("main_journal_diameter - rod_width", "main and rod are different stations: a value at one cannot be combined"),
        ("intake_valve_lift - exhaust_valve_lift", 'for example greatest(..., "cylinder")'),
        ("spread(main_journal_diameter - rod_width)", "main and rod are different stations"),
        ("rod_width if main_journal_diameter > 1 in else rod_width", "different stations"),
        ("spread(stroke)", "spread needs values at several stations"),
        ('spread(cylinder_bore, "main")', "no cylinder belongs to a 'main'"),
        ('spread(rod_width, "cylinder")', "rod belongs to crankpin"),
        ('spread(rod_width, "rod")', "no rod belongs to a 'rod'"),
    ],
)
def test_stations_that_do_not_fit(text: str, words: str) -> None:
    found = problems_of(text)
    assert len(found) == 1
    assert words in found[0]


# --- columns ------------------------------------------------------------------------------------------------------


def test_columns_say_what_is_read_and_where() -> None:
    found = compiled("intake_valve_lift / cylinder_bore + 0*deck_clearance/1 in")
    assert found.columns == (
        Column("intake_valve_lift", "value", "intake-valve"),
        Column("cylinder_bore", "value", "intake-valve"),
        Column("deck_clearance", "value", None),
    )
    assert found.names == {"intake_valve_lift", "cylinder_bore", "deck_clearance"}
    assert found.column is None
    assert found.across == frozenset()


def test_a_plain_column_is_known_as_one() -> None:
    assert compiled("cylinder_bore").column == Column("cylinder_bore", "value", "cylinder")
    assert compiled("piston_alloy").column == Column("piston_alloy", "value", "cylinder")
    assert compiled("piston_alloy").nature == "choice"
    assert compiled("spread_of_readings(cylinder_bore)").column == Column(
        "cylinder_bore", "spread_of_readings", "cylinder"
    )
    assert compiled("2*cylinder_bore").column is None


def test_columns_read_across_stations_are_told_from_those_read_at_each() -> None:
    found = compiled("rod_width - mean(rod_width + 0*stroke) + crankpin_width")
    assert found.across == {Column("rod_width", "value", "rod"), Column("stroke", "value", None)}
    assert Column("crankpin_width", "value", "rod") in found.columns
    nested = compiled("spread(rod_width - mean(crankpin_width))")
    assert nested.across == set(nested.columns)


def test_views_of_a_characteristic() -> None:
    assert compiled("computed(ring_gap) - measured(ring_gap)").columns == (
        Column("ring_gap", "computed", "cylinder"),
        Column("ring_gap", "measured", "cylinder"),
    )
    assert compiled("rises(head_bolt_torque)").nature == "truth"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("computed(cylinder_bore)", "cylinder_bore is not derived"),
        ("rises(cylinder_bore)", "cylinder_bore is not a series"),
        ("least_reading(2*cylinder_bore)", "least_reading takes the plain name of a characteristic"),
        ("least_reading(piston_alloy)", "piston_alloy has choices"),
        ("least_reading(thou)", "plain name of a characteristic"),
    ],
)
def test_views_that_do_not_exist(text: str, words: str) -> None:
    assert words in problems_of(text)[0]


# --- ranges -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "1 / deck_clearance",
        "1 / (stroke - 0.1 m)",
        "deck_clearance**-1",
        "deck_clearance**0.5",
        "sqrt(stroke - cylinder_bore)",
        "log(stroke/1 m - 1)",
        "exp(1e6*stroke/1 m)",
        "(((stroke*1e12)**4)**4)**4",
        "total(1/(cylinder_bore - stroke)) if cylinder_bore > stroke else 1/1 m",
        "1 / deck_clearance if deck_clearance >= 0 else 1/1 m",
        "1 / deck_clearance if stroke > 0 else 1/1 m",
        "1/1 m if deck_clearance > 0 else 1/deck_clearance",
        "1 / deck_clearance if deck_clearance > 0 or stroke > 0.1 m else 1/1 m",
        "deck_clearance > 0 and 1/deck_clearance < 3/1 m or 1/deck_clearance > 5/1 m",
        "total(1/cylinder_bore) if 1/deck_clearance > 0 else 1/1 m",
    ],
)
def test_what_can_fail_is_refused(text: str) -> None:
    assert any("within the plausible ranges" in problem for problem in problems_of(text))


@pytest.mark.parametrize(
    "text",
    [
        "1 / deck_clearance if deck_clearance > 0 else 0",
        "1 / deck_clearance if 0 < deck_clearance else 0",
        "1 / deck_clearance if not deck_clearance <= 0 else 0",
        "1/1 m if deck_clearance <= 0 else 1/deck_clearance",
        "1 / deck_clearance if deck_clearance > 0 and stroke > 0.1 m else 0",
        "0 if deck_clearance <= 0 or stroke < 0.1 m else 1/deck_clearance",
        "1 / deck_clearance if 0 < deck_clearance < 1 thou else 0",
        "1 / deck_clearance if 1 thou > deck_clearance > 0 else 0",
        "1 / (stroke - 0.1 m) if stroke - 0.1 m > 0 else 0",
        "1 / (stroke - cylinder_bore) if stroke - cylinder_bore > 1 thou else 0",
        "sqrt(stroke - cylinder_bore) if stroke - cylinder_bore >= 0 else 0",
        "asin(stroke / cylinder_bore) if stroke / cylinder_bore <= 1 else 90 deg",
        "deck_clearance > 0 and 1/deck_clearance < 3/1 m",
        "deck_clearance <= 0 or 1/deck_clearance < 3/1 m",
        "deck_clearance**-1 if deck_clearance > 0 else 0",
        "1 / deck_clearance if deck_clearance > 1 m else 0",
    ],
)
def test_what_is_guarded_is_accepted(text: str) -> None:
    assert compiled(text).low <= compiled(text).high


def test_the_range_of_a_clearance() -> None:
    found = compiled("main_bearing_bore - main_journal_diameter")
    assert (found.low, found.high) == pytest.approx((-0.18, 0.18))


# --- problems -----------------------------------------------------------------------------------------------------


def test_all_problems_are_listed_with_their_columns() -> None:
    with pytest.raises(ExpressionError) as caught:
        compiled("strok + 2*inc + sqr(cylinder_bor) + stroke.real + sin(stroke)")
    found = [(problem.place.column, problem.message) for problem in caught.value.problems if problem.place]
    assert [column for column, _ in found] == [1, 11, 17, 21, 37, 55]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("strok", "did you mean 'stroke'?"),
        ("sqr(stroke)", "did you mean 'sqrt'?"),
        ("2*inches", "inches is a unit (it stands behind a number, as in 0.5 in)"),
        ("5 tohu", "'tohu' is not a unit (did you mean 'thou'?)"),
        ("1/2 in", "'1/2 in' can be read in two ways (write 0.5 in)"),
        ("2 in**2", "is put in parentheses, as in (2 in)**2"),
        ("stroke where stroke > 1 in", "where stands once, inside a reduction"),
        ("100 degF", "K is the unit of temperature here"),
        ("sqrt", "sqrt is a function and needs its arguments"),
        ("stroke(2)", "no function is called 'stroke'"),
        ("max(stroke, stroke)", "no function is called 'max' (greatest over stations, larger_of for two values)"),
        ("average(cylinder_bore)", "no function is called 'average' (mean)"),
        ("mean(cylinder_bore, stroke)", 'not 2 (and a kind of stations in quotes, as in mean(..., "shaft"))'),
        ("stroke = 4 in", "numbers are compared with <, <=, > or >=, a fact with is"),
        ("stroke ^ 2", "powers are written **"),
        ("stroke % 5", "it stands behind a number and a space, as in 5 %"),
        ("0.5thou", "put a space between a number and its unit"),
        ("smaller_of(1,5)", "a space after the comma"),
        ("hypot(stroke)", "hypot takes 2 arguments, not 1"),
        ("abs(stroke, stroke)", "abs takes 1 argument, not 2"),
        ('piston_alloy is "4033"', "did you mean '4032'?"),
        ("piston_alloy is wood", "one of cast, 4032, 2618"),
        ("piston_alloy is casst", "did you mean 'cast'?"),
        ('piston_alloy == "cast"', "write is"),
        ("piston_alloy is 4032", "a single word, or what is in quotes"),
        ("piston_alloy is cast alloy", "a choice of more than one word stands in quotes"),
        ("piston_alloy in cast", "of one, write is"),
        ("piston_alloy in (cast alloy, forged)", "a choice of more than one word stands in quotes"),
        ("piston_alloy in {cast, forged}", "use parentheses"),
        ("stroke <> 3 in", "a fact is compared with is not, numbers with <, <=, > or >="),
        ("stroke > 3 in AND stroke < 5 in", "and, or, not, if, else, is, in stand in small letters"),
        ("NOT stroke > 3 in", "and, or, not, if, else, is, in stand in small letters"),
        ("!known(stroke)", "write not"),
        (
            "if stroke > 3 in then stroke < 5 in",
            "write a if condition else b; what must hold together is joined with and",
        ),
        ("if stroke > 3 in: 5 in", "the character ':' has no place here"),
        ("stroke > 3 in ? 5 in", "write a if condition else b"),
        ("abs(stroke > 3 in", "a parenthesis is not closed"),
        ("abs(stroke)) > 3 in", "a parenthesis too many is closed"),
        ("stroke is long", "numbers are compared with <= and >="),
        (
            "mean(cylinder_bore if piston_alloy is cast else 0)",
            "the stations left out would count as 0 (write mean(cylinder_bore where piston_alloy is cast))",
        ),
        (
            "total(2*(0 mm if piston_alloy is cast else cylinder_bore))",
            "cylinder_bore where not (piston_alloy is cast)",
        ),
        ("abs(cylinder_bore where piston_alloy is cast)", "where picks stations: abs takes none"),
        ("next(stroke)", "next needs a value at several stations"),
        ("next(previous(cylinder_bore))", "a neighbour of a neighbour cannot be named"),
        ("least_known(stroke)", "least_known takes two names or more"),
        ("least_known(stroke, 2*deck_clearance)", "give what is calculated a name of its own"),
        ("least_known(stroke, rod_mass)", "length and mass cannot be used together"),
        ("stroke or stroke > 1 in", "a condition is needed here, stroke is a number"),
        ("-(stroke > 1 in)", "a number is needed here, stroke > 1 in is a condition"),
        ("piston_alloy + 1", "a number is needed here, piston_alloy is a choice"),
    ],
)
def test_a_problem_says_what_would_mend_it(text: str, words: str) -> None:
    assert words in " ".join(problems_of(text))


def test_problems_can_be_placed_in_a_file() -> None:
    place = Place("bearings.yaml", 12, 9, "rules.main-oil-clearance.judges")
    with pytest.raises(ExpressionError) as caught:
        compiled("2*strok")
    (problem,) = caught.value.placed("2*strok", place)
    assert str(problem).startswith("bearings.yaml:12:9: rules.main-oil-clearance.judges: nothing is called 'strok'")
    assert "at character 3 of '2*strok'" in problem.message


def test_constants_are_found_by_name() -> None:
    scope = replace(ENGINE, constants={"gasket_thickness": Constant(0.001, LENGTH)})
    found = compiled("2*gasket_thickness + stroke", scope)
    assert found.names == {"gasket_thickness", "stroke"}
    assert value_of("2*gasket_thickness + stroke", scope, stroke=0.1).item() == pytest.approx(0.102)


def test_an_expression_of_constants_is_one_number() -> None:
    assert value_of("2*pi*25.4 mm/1 in").item() == pytest.approx(6.283185307179586)
