"""Where the tests find what they read."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[2]
"""The project."""
DATA = ROOT / "tests" / "data"
"""Packs, records and tables that tests share."""
HONEST = DATA / "honest"
"""Records as a competent shop writes them."""
DEMO_RECORD = ROOT / "rules" / "demo_record.yaml"
