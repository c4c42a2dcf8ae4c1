"""What made-up records of a gear train and of an engine state besides their readings."""

from __future__ import annotations

from typing import Any

TRAIN: dict[str, Any] = {
    "application": "general",
    "units": {"length": "mm", "mass": "kg"},
    "stations": {"shaft": 2, "gear": 4, "mesh": 2},
    "instruments": {
        "micrometer": {"expanded_uncertainty": "0.004 mm"},
        "bore-gauge": {"expanded_uncertainty": "0.006 mm", "shared": "0.003 mm"},
        "feeler": {"expanded_uncertainty": "4 %", "shared": "1 %"},
    },
}
ENGINE: dict[str, Any] = {
    "application": "street-performance",
    "units": {"length": "in", "pressure": "psi"},
    "stations": {"main": 3, "cylinder": 4},
    "instruments": {
        "micrometer": {"expanded_uncertainty": "0.1 thou"},
        "bore-gauge": {"expanded_uncertainty": "0.2 thou", "shared": "0.1 thou"},
    },
}
