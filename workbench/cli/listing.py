"""The commands: what each is for, and which module does it. Help and version need no more than this list.

A command's module, with all that it loads, is imported when the command is asked for.
"""

from typing import NamedTuple


class Listed(NamedTuple):
    """What a command is for, as a phrase without a capital, and the module of this package that offers it."""

    purpose: str
    module: str


LISTED = {
    "assess": Listed("loss, eye, margin and verdict of every lane of a board", "commands"),
    "check": Listed("list everything that is wrong with a board file, without computing", "commands"),
    "new": Listed("write a small board to begin with", "commands"),
    "profiles": Listed("list the interface profiles, with sources", "commands"),
    "report": Listed("write a report of a board to hand over, as HTML or PDF", "report"),
    "sheet": Listed("the settings sheet: the settings of every device, on one page", "report"),
    "manual": Listed("write the manual: every part, field and finding, in one file that needs no network", "report"),
    "import": Listed("add measured networks (Touchstone) or makers' models to a board", "data.networks"),
    "quality": Listed("how good a measured network (Touchstone) is", "data.networks"),
    "export": Listed("write a lane, or a part of it, as a Touchstone file", "data.networks"),
    "lanes": Listed("import routed lengths, and new lanes, from a list", "data.measured"),
    "overlay": Listed("overlay measurements on what is computed", "data.measured"),
    "fit": Listed("fit catalogue values to measured responses", "data.measured"),
    "study": Listed("many assessments: which settings, which position, how long, what yield", "study"),
    "compare": Listed("what changed between two boards, and what each change did", "compare"),
    "waveform": Listed("send bits through a lane bit by bit and count errors", "waveform"),
    "model": Listed("show, trust and try makers' models (IBIS-AMI)", "model"),
    "gains": Listed("a data sheet's table of gains: read, fitted, made a conditioner", "data.gains"),
    "section": Listed("impedance, loss and coupling of a line's cross-section, solved", "section"),
    "demo": Listed("write the demo boards and sample files to try things out", "demo"),
    "remedy": Listed("what to change so that failing and marginal lanes pass", "remedy"),
    "explain": Listed("how a figure of a lane came about: formula, numbers, sources, checks", "explain"),
}
"""Every command by its word, in the order of the help; one more is a module with its `OFFERS` and its place here."""
