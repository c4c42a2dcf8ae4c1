"""What an assembly is judged for, and how much is asked for then.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, NamedTuple

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, Name, Text
from checker.documents.keys import Key


class Application(NamedTuple):
    """A use the assembly is judged for; it inherits what it does not state."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What the use is called in reports.", "General duty")]
    like: Annotated[Name | None, Key("The application whose limits it inherits.", "general")] = None
    inspection: Annotated[
        Name | None,
        Key(
            "The inspection level it is judged at; that of the application it is like, or the lowest, when absent.",
            "laboratory",
        ),
    ] = None


class InspectionLevel(NamedTuple):
    """How much is asked for; a pack states its levels in rising order."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What the level is called in reports.", "Usual build")]


class ControlPlan(NamedTuple):
    """What a shop asks for by its own policy; what is measured all the same is judged."""

    origin: Origin
    asks: Annotated[tuple[Name, ...], Key("The only rules that are asked for, at every level.", ["key-width"])] = ()
    leaves_out: Annotated[
        Mapping[Name, Text],
        Key(
            "Rules that are not asked for, each with the reason; reports list them.",
            {"key-width": "keys are bought to the drawing"},
        ),
    ] = NOTHING
