"""How many examples a property is tried on: a few in every run, many by `--hypothesis-profile=thorough`.

No example has a deadline, and none is refused for being slow: what a busy machine does is no finding.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

USUAL, THOROUGH = 50, 2_000
"""For a property that names no number of its own; the others grow by as much."""

for name, count in (("usual", USUAL), ("thorough", THOROUGH)):
    settings.register_profile(
        name,
        max_examples=count,
        deadline=None,
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.load_profile("usual")


def examples(count: int) -> settings:
    """So many in every run, and as many times more in a thorough one as of any other property."""
    return settings(max_examples=count * settings.default.max_examples // USUAL)
