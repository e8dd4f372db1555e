"""What a terminal can do, and whether there is a display for the window."""

import importlib.util
import os
import sys
from collections.abc import Mapping
from typing import TextIO

WINDOW = "workbench.desk"


def colour_wanted(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether to colour: only on a terminal that has it, and not where NO_COLOR is set."""
    return stream.isatty() and not environment.get("NO_COLOR") and environment.get("TERM", "dumb") != "dumb"


def why_no_window(environment: Mapping[str, str] = os.environ) -> str | None:
    """Why the window can't be opened here, in a few words; None where it can."""
    if importlib.util.find_spec(WINDOW) is None:
        return "this version has no window yet"
    if sys.platform.startswith("linux") and not (environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY")):
        return "there is no display"
    return None
