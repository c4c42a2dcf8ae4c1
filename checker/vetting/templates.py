"""What `new-pack` and `new-plugin` start from: the files below `templates/`, with their words filled in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from importlib.resources import files
from string import Template

from checker.errors import Problem, UsageError
from checker.packs.files import device_hint
from checker.units.units import Unit

_NAME = re.compile(r"[a-z][a-z0-9-]{0,63}")
_FIRST_PACK = ("pack.yaml", "cover.yaml", "cases/cover.yaml")
_NEW_PLUGIN = (
    *("pyproject.toml", "README.md"),
    *("src/$module/__init__.py", "src/$module/functions.py", "src/$module/py.typed"),
    *("src/$module/pack/pack.yaml", "src/$module/pack/cone.yaml", "src/$module/pack/cases/cone.yaml"),
    "tests/test_plugin.py",
)


def first_pack(name: str) -> Mapping[str, str]:
    """The files of a new pack that stands alone; raises UsageError for a name that packs cannot have."""
    require_name(name)
    return filled_in("first_pack", _FIRST_PACK, name=name)


def new_plugin(name: str) -> Mapping[str, str]:
    """The files of a new plugin by name; raises UsageError for a name that its pack cannot have."""
    require_name(name)
    return filled_in("new_plugin", _NEW_PLUGIN, name=name, module=f"checker_{name.replace('-', '_')}")


def require_name(name: str) -> None:
    """Raises UsageError for a name that packs cannot have."""
    form = "" if _NAME.fullmatch(name) else "small letters, digits and hyphens, such as shop-policy"
    if hint := device_hint(name) or form:
        raise UsageError(Problem(f"a pack cannot be called {name!r}", hint=hint))


def as_written(value: float, unit: Unit, digits: int = 6) -> str:
    """A value in SI as packs write it, to so many significant digits."""
    number = f"{unit.from_si(value):.{digits}g}"
    return number if unit.name == "1" else f"{number} {unit.name}"


def filled_in(kind: str, names: Iterable[str], **words: str) -> dict[str, str]:
    """The files of a template by name, every $word in their names and texts filled in."""
    folder = files("checker.vetting") / "templates" / kind
    texts = {name: (folder / f"{name.replace('$', '')}.txt").read_text(encoding="utf-8") for name in names}
    return {Template(name).substitute(words): Template(text).substitute(words) for name, text in texts.items()}
