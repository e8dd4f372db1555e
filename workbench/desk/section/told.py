"""The figures of a cross-section in a few lines, as the editor shows them. No widget."""

import math
from collections.abc import Iterable
from html import escape
from typing import NamedTuple

from workbench.quantity import show
from workbench.reports.section.figures import SectionFigures

_LEAST = 1e-15


class ToldFigure(NamedTuple):
    """A line: its words, the figure in it by its name in the JSON ("" for none), and whether a neighbour is beside."""

    words: str
    path: str = ""
    beside: bool = False


def figures_told(alone: SectionFigures, beside: SectionFigures | None) -> list[ToldFigure]:
    """Figures of a pair alone and, where there can be one, beside its neighbour."""
    lines = [
        ToldFigure(f"Differential {show(alone.differential_impedance_ohm, 'ohm')}", "differential_impedance_ohm"),
        ToldFigure(f"Common {show(alone.common_impedance_ohm, 'ohm')}", "common_impedance_ohm"),
        ToldFigure(f"Effective permittivity {alone.effective_permittivity:.4g}", "effective_permittivity"),
        ToldFigure(
            f"Loss at {show(alone.frequency_hz, 'Hz')}: {show(alone.loss_db_per_m, 'dB/m', digits=3)}", "loss_db_per_m"
        ),
    ]
    if beside is None or beside.backward_coupling is None or beside.forward_coupling_s_per_m is None:
        return [*lines, ToldFigure("No neighbour can stand so near or so far.")]
    level_db = 20.0 * math.log10(max(abs(beside.backward_coupling), _LEAST))
    forward = f"Forward coupling {show(beside.forward_coupling_s_per_m, 's/m', digits=3)}"
    return [
        *lines,
        ToldFigure(f"Backward coupling {level_db:.1f} dB", "backward_coupling", beside=True),
        ToldFigure(forward, "forward_coupling_s_per_m", beside=True),
    ]


def as_links(lines: Iterable[ToldFigure], ink: str) -> str:
    """The lines as rich text; a figure links to "alone:NAME" or "beside:NAME", in a colour."""
    return "<br>".join(
        f"<a href='{'beside' if one.beside else 'alone'}:{one.path}' style='color:{ink}'>{escape(one.words)}</a>"
        if one.path
        else escape(one.words)
        for one in lines
    )  # fmt: skip
