"""What a terminal can do, and whether there is a display for the window."""

import ctypes
import gc
import importlib.util
import os
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TextIO

WINDOW = "workbench.desk"


def colour_wanted(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether to colour: only on a terminal that has it, and not where NO_COLOR is set."""
    return stream.isatty() and not environment.get("NO_COLOR") and environment.get("TERM", "dumb") != "dumb"


def why_no_window(environment: Mapping[str, str] = os.environ) -> str | None:
    """Why the window can't be opened here, in a few words; None where it can."""
    if importlib.util.find_spec(WINDOW) is None:
        return "this version has no window yet"
    if sys.platform.startswith("linux") and not _display_there(environment):
        return "there is no display"
    return _what_qt_lacks()


def _display_there(environment: Mapping[str, str]) -> bool:
    """Whether a display is named and, where it is one of this machine, listens: Qt ends the process if it does not."""
    # A socket of this name; an absolute one replaces the folder.
    wayland = environment.get("WAYLAND_DISPLAY")
    if wayland and Path(environment.get("XDG_RUNTIME_DIR", ""), wayland).exists():
        return True
    found = re.fullmatch(r"(unix)?:(\d+)(\.\d+)?", environment.get("DISPLAY", ""))
    if found is None:
        return bool(environment.get("DISPLAY"))
    return Path(f"/tmp/.X11-unix/X{found[2]}").exists()


def _what_qt_lacks() -> str | None:
    """What keeps the toolkit from loading, in a few words; None where it loads."""
    collecting = gc.isenabled()
    gc.disable()  # what is loaded stays: looking for garbage among it takes its time
    try:
        importlib.import_module(f"{WINDOW}.toolkit_free")
        importlib.import_module("PySide6.QtWidgets")
        if sys.platform.startswith("linux"):
            ctypes.CDLL("libxcb-cursor.so.0")
    except (ImportError, OSError) as error:
        return f"a system library is missing ({error}); README says which packages bring them"
    finally:
        if collecting:
            gc.enable()
    return None
