"""The figures of a cross-section in a few lines, as the editor shows them. No widget."""

import math

from workbench.quantity import show
from workbench.reports.section.figures import SectionFigures

_LEAST = 1e-15


def figures_told(alone: SectionFigures, beside: SectionFigures | None) -> str:
    """Figures of a pair alone and, where there can be one, beside its neighbour."""
    lines = [
        f"Differential {show(alone.differential_impedance_ohm, 'ohm')}",
        f"Common {show(alone.common_impedance_ohm, 'ohm')}",
        f"Effective permittivity {alone.effective_permittivity:.4g}",
        f"Loss at {show(alone.frequency_hz, 'Hz')}: {show(alone.loss_db_per_m, 'dB/m', digits=3)}",
    ]
    if beside is None or beside.backward_coupling is None or beside.forward_coupling_s_per_m is None:
        return "\n".join([*lines, "No neighbour can stand so near or so far."])
    level_db = 20.0 * math.log10(max(abs(beside.backward_coupling), _LEAST))
    return "\n".join([
        *lines,
        f"Backward coupling {level_db:.1f} dB",
        f"Forward coupling {beside.forward_coupling_s_per_m * 1e12:.3g} ps/m",
    ])  # fmt: skip
