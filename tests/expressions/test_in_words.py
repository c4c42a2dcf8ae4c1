"""Expressions as people say them: every form of the grammar, and no name of a pack in any of them.

The sentences were written by hand, from what each expression means by its grammar (checker/expressions/compiling.py).
"""

from __future__ import annotations

import re

import pytest
from judging import rulebook

from checker.expressions.in_words import in_words
from checker.packs.titles import Titles

TITLES = {"bolt_load": "bolt load", "key_material": "key material", "shaft": "shaft", "key_grade": "grade of the key"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bolt_load", "bolt load"),
        ("0.0045*bolt_load + 5 thou", "0.0045 x bolt load + 5 thou"),
        ("(bolt_load + 1 lbf)/2", "(bolt load + 1 lbf) / 2"),
        ("bolt_load - (1 lbf - 2 lbf)", "bolt load - (1 lbf - 2 lbf)"),
        ("bolt_load/(2*3)", "bolt load / (2 x 3)"),
        ("(bolt_load/2)**2", "(bolt load / 2) squared"),
        ("-bolt_load", "-bolt load"),
        ("bolt_load >= 3 lbf", "bolt load is at least 3 lbf"),
        ("1 lbf < bolt_load <= 3 lbf", "bolt load is over 1 lbf and at most 3 lbf"),
        ("3 lbf >= bolt_load > 1 lbf", "bolt load is at most 3 lbf and over 1 lbf"),
        ("key_material is steel", 'key material is "steel"'),
        ('key_material is not "cast iron"', 'key material is not "cast iron"'),
        ('key_material in (brass, "cast iron")', 'key material is "brass" or "cast iron"'),
        ("key_material is key_grade", "key material is grade of the key"),
        ("known(bolt_load)", "bolt load is known"),
        ("not known(bolt_load)", "bolt load is not known"),
        ("known(key_material is steel)", 'it is known that key material is "steel"'),
        ("not (known(key_material is steel))", 'it is not known that key material is "steel"'),
        ("not (bolt_load > 1 lbf)", "not (bolt load is over 1 lbf)"),
        (
            "known(bolt_load) and (key_material is steel or key_material is brass)",
            'bolt load is known and (key material is "steel" or key material is "brass")',
        ),
        ("bolt_load if known(bolt_load) else 3 lbf", "bolt load if bolt load is known, else 3 lbf"),
        ("spread(bolt_load)", "spread of bolt load"),
        ('mean(bolt_load, "shaft")', "mean of bolt load for each shaft"),
        ("mean(bolt_load where key_material is steel)", 'mean of bolt load where key material is "steel"'),
        ("count(bolt_load > 1 lbf)", "the number where bolt load is over 1 lbf"),
        ("abs(bolt_load - 3 lbf)", "the difference between bolt load and 3 lbf"),
        ("abs(bolt_load)", "size of bolt load"),
        ("smaller_of(bolt_load, 3 lbf)", "the smaller of bolt load and 3 lbf"),
        ("next(bolt_load)", "the next bolt load"),
        ("this is no expression (", "this is no expression ("),
    ],
)
def test_every_form_has_its_words(text: str, words: str) -> None:
    assert in_words(text, lambda name: TITLES.get(name, name.replace("_", " "))) == words


def test_no_name_of_a_pack_is_left_in_any_condition() -> None:
    layered = rulebook("four-stroke", "nitrous", "boosted", "alcohol").layered
    stated = [text for rule in layered.rules.values() for text in (rule.when, rule.unless, rule.inspection.occasion)]
    told = [Titles(layered).said(text) for text in stated if text]
    assert len(told) > 200
    assert [words for words in told if re.search(r"[a-z]_[a-z]|\w\(", words)] == []
