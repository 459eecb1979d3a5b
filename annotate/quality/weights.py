"""How much each part of a picture's score counts."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields


@dataclass(frozen=True, kw_only=True)
class Weights:
    """How much each part counts; 0 leaves it out. Settings of the programme."""

    detail: float = 3.0
    focus: float = 2.0
    exposure: float = 2.0
    noise: float = 0.3  # what noise hides counts under detail already
    completeness: float = 1.0
    terminator: float = 2.0
    fresh: float = 2.0
    newcomer: float = 1.0
    simple_equipment: float = 1.0
    fairness: float = 1.5
    variety: float = 0.5

    def __post_init__(self) -> None:
        for one in fields(self):
            value = getattr(self, one.name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"the weight of {one.name} must be 0 or more, not {value}")
