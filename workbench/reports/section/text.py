"""The figures of a cross-section as text."""

import math

from workbench.quantity import show
from workbench.reports.section.figures import SectionFigures


def section_text(figures: SectionFigures) -> str:
    """The figures as text, a line each."""
    size = figures.dimensions
    rows = [
        ("width, gap", f"{show(size.width_m, 'm')}, {show(size.gap_m, 'm')}"),
        ("differential impedance", show(figures.differential_impedance_ohm, "ohm")),
        ("common impedance", show(figures.common_impedance_ohm, "ohm")),
        ("effective permittivity", f"{figures.effective_permittivity:.4g}"),
        (f"loss at {show(figures.frequency_hz, 'Hz')}", show(figures.loss_db_per_m, "dB/m")),
    ]
    if figures.backward_coupling is not None and figures.forward_coupling_s_per_m is not None:
        level_db = 20.0 * math.log10(max(abs(figures.backward_coupling), 1e-15))
        rows += [
            ("neighbour at", show(size.neighbour_gap_m or 0.0, "m")),
            ("backward coupling", f"{figures.backward_coupling:.3g} ({level_db:.1f} dB)"),
            ("forward coupling", show(figures.forward_coupling_s_per_m, "s/m", digits=3)),
        ]
    rows.append(("lanes are computed with", f"{figures.line_impedance_ohm:.4g} ohm (with losses)"))
    width = max(len(name) for name, _ in rows)
    lines = [f"{figures.line}, cross-section solved", *(f"  {name:<{width}}  {text}" for name, text in rows)]
    return "\n".join(lines) + "\n"
