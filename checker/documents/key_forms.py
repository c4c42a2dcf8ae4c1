"""Forms in which the keys of documents are written.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, Any, TypeAlias, TypeVar

from checker.documents.keys import Around, ByName, Form, Source
from checker.documents.tree import KeyPath
from checker.frozen import FrozenMapping

WITH_HYPHENS = {"pattern": "^[a-z][a-z0-9-]{0,63}$"}
WITH_UNDERSCORES = {"pattern": "^[a-z][a-z0-9_]{0,63}$"}
NOTHING: Mapping[str, Any] = FrozenMapping({})
_Thing = TypeVar("_Thing")
IN_WORDS = {"pattern": r"^[\s\S]*\S[\s\S]*$"}
Text = Annotated[str, Form({"type": "string", **IN_WORDS, "maxLength": 2000})]
"""What is said in words; blanks alone say nothing, and permit nothing."""
Name = Annotated[str, Form({"type": "string", **WITH_HYPHENS})]
"""The name of a rule, an application, a kind of station."""
Symbol = Annotated[str, Form({"type": "string", **WITH_UNDERSCORES})]
"""A name that expressions use."""
Label = Annotated[str, Form({"type": "string", "minLength": 1, "maxLength": 40})]
Count = Annotated[int, Form({"type": "integer", "minimum": 1, "maximum": 64})]
Named: TypeAlias = Annotated[tuple[_Thing, ...], ByName(WITH_HYPHENS)]
Symbols: TypeAlias = Annotated[tuple[_Thing, ...], ByName(WITH_UNDERSCORES)]
Changed: TypeAlias = Annotated[tuple[_Thing, ...], ByName(WITH_HYPHENS, once=False)]


def as_written(source: Source, path: KeyPath, _value: Any, _around: Around) -> str:
    """What stands at a path, with every figure that was written."""
    return source.document.written(*path)


Day = Annotated[str, Form({"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"})]
"""A date as ISO 8601 writes it; whether there is such a day is seen later."""
DecisionName = Annotated[str, Form({"enum": ["simple", "where-known", "guarded", "probability"]})]
Probability = Annotated[float, Form({"minimum": 0.5, "maximum": 0.9999})]
AsWritten = Annotated[str, Form({"type": ["string", "number"], "minLength": 1}, as_written)]
"""A quantity, with every figure that was written."""
ManyAsWritten: TypeAlias = tuple[AsWritten, ...]
