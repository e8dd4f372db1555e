"""What can be taken away from a part, to see what it costs a lane."""

from collections.abc import Mapping
from typing import Any

LOSS, REFLECTIONS, STUBS = "loss", "reflections", "via stubs"
RANDOM, DETERMINISTIC, NOISE = "random jitter", "deterministic jitter", "noise"
IdealValues = Mapping[str, Mapping[str, Any]]
"""By what is taken away, the values that fields then have."""
