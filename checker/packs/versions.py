"""Versions and version ranges, as PEP 440 writes them."""

from __future__ import annotations

from collections.abc import Iterable

from packaging.specifiers import InvalidSpecifier, SpecifierSet
from packaging.version import InvalidVersion, Version


def is_version(text: str) -> bool:
    """Whether the text is a version such as 1.0.0."""
    try:
        Version(text)
    except InvalidVersion:
        return False
    return True


def is_range(text: str) -> bool:
    """Whether the text is a version range such as >=1,<2."""
    try:
        SpecifierSet(text)
    except InvalidSpecifier:
        return False
    return True


def satisfies(version: str, allowed: str) -> bool:
    """Whether a version lies in a range; both must be valid."""
    return SpecifierSet(allowed).contains(version, prereleases=True)


def compatible_range(version: str) -> str:
    """The range from a version up to the next one that may change what it promises, such as >=1.2,<2."""
    parsed = Version(version)
    epoch = f"{parsed.epoch}!" if parsed.epoch else ""
    return f">={version},<{epoch}{parsed.major + 1}"


def range_required(requirements: Iterable[str], name: str) -> str:
    """The versions of a distribution that another one says it needs; empty where it says none."""
    from packaging.requirements import InvalidRequirement, Requirement  # only plugins of others need it
    from packaging.utils import canonicalize_name

    ranges = []
    for text in requirements:
        try:
            stated = Requirement(text)
        except InvalidRequirement:
            continue
        if canonicalize_name(stated.name) == name and (stated.marker is None or stated.marker.evaluate({"extra": ""})):
            ranges.append(",".join(sorted(map(str, stated.specifier), reverse=True)))
    return ",".join(filter(None, ranges))
