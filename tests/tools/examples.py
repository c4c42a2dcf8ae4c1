"""How many examples a property is tried on: a few in every run, many by `--hypothesis-profile=thorough`.

No example has a deadline, and none is refused for being slow: what a busy machine does is no finding. Others are tried
in every run, but where CI is set, as in .ci/run: what stops a change there is the change.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

USUAL, THOROUGH = 50, 2_000
"""For a property that names no number of its own; the others grow by as much."""

for name, count in (("usual", USUAL), ("thorough", THOROUGH)):
    settings.register_profile(
        name,
        max_examples=count,
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.load_profile("usual")


def examples(count: int) -> settings:
    """So many in every run, and as many times more in a thorough one as of any other property."""
    return settings(max_examples=count * settings.default.max_examples // USUAL)
