"""What of a measurement is drawn in which pane: plain curves on the pane's own axes. Nothing here knows a widget."""

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.measurement import MeasuredEye, MeasuredResponse, MeasuredStep, MeasuredWaveform
from workbench.desk.session.overlays import LaidOverlay
from workbench.quantity import show

if TYPE_CHECKING:
    from workbench.measured.overlay.figures import Overlay
    from workbench.measured.overlay.fold import FoldedEye


class Stroke(NamedTuple):
    """A curve on a pane's axes (Hz and dB, UI and V, s and ohm), shape (n,) each.

    `model` says that it is computed: what lies between the probes has no curve of the lane's to be laid on. `connect`
    is "all", "finite" or "pairs", as the toolkit has it.
    """

    x: Floats
    y: Floats
    model: bool = False
    connect: Literal["all", "finite", "pairs"] = "all"


def strokes(kind: str, laid: LaidOverlay, probes: tuple[str, ...]) -> tuple[Stroke, ...]:
    """What a pane draws of a measurement; empty where it has nothing to do with the pane.

    Args:
        kind: the pane's: "frequency", "pulse", "eye", "impedance" or another.
        laid: the measurement beside its lane.
        probes: the lane's probe points on screen: what depends on one is drawn where it is seen.
    """
    measured, overlay = laid.measurement, laid.overlay
    if overlay is None:
        return ()
    seen = measured.probe in probes
    found: tuple[Stroke, ...] = ()
    match measured:
        case MeasuredResponse() if kind == "frequency":
            # What comes back, or lies between places, is seen with the lane, wherever one looks.
            always = bool(measured.first) or measured.parameter == "reflection"
            found = _response(measured, overlay) if seen or always else ()
        case MeasuredStep(quantity="transmitted") if kind == "pulse" and seen:
            found = (_pulse(overlay, laid.ui_s),)
        case MeasuredStep() if kind == "impedance" and measured.quantity != "transmitted":
            found = (Stroke(overlay.x + laid.start_s, overlay.y_measured),)
        case MeasuredWaveform() if kind == "eye" and seen and laid.eye is not None:
            found = _folded(laid.eye)
        case MeasuredEye() if kind == "eye" and seen:
            found = _opening(measured)
    return found


def words(laid: LaidOverlay) -> str:
    """What stands beside a drawn measurement: its name, and how far it is from the model."""
    overlay = laid.overlay
    if overlay is None:
        return laid.measurement.name
    if overlay.difference is not None:
        return f"{overlay.name}: rms {show(overlay.difference.rms, overlay.y_unit, digits=2)}"
    shown = ((one.label.removeprefix("eye "), one.apart, one.unit) for one in overlay.figures)
    apart = (f"{label} {show(value, unit, digits=2)}" for label, value, unit in shown)
    return f"{overlay.name}: {', '.join(apart)}"


def _response(measured: MeasuredResponse, overlay: "Overlay") -> tuple[Stroke, ...]:
    # The pane draws what comes back as the level that it is, below 0 dB.
    sign = 1.0 if measured.parameter == "transmission" else -1.0
    found = (Stroke(overlay.x, sign * overlay.y_measured),)
    return (*found, Stroke(overlay.x, sign * overlay.y_model, model=True)) if measured.first else found


def _pulse(overlay: "Overlay", ui_s: float) -> Stroke:
    """The pulse in a measured step: half of what it gains in one UI, since a step is a run of pulses one UI apart."""
    earlier = np.interp(overlay.x - ui_s, overlay.x, overlay.y_measured)
    return Stroke(overlay.x / ui_s, 0.5 * (overlay.y_measured - earlier))


def _folded(eye: "FoldedEye") -> tuple[Stroke, ...]:
    """How far in and how far out samples were seen at each phase, upper and lower side."""
    seen, upper = eye.density > 0.0, eye.level_v > 0.0
    found = []
    for side, inner in ((upper, np.min), (~upper, np.max)):
        for edge in (inner, np.max if inner is np.min else np.min):
            level = [edge(eye.level_v[row & side]) if (row & side).any() else np.nan for row in seen]
            found.append(Stroke(eye.time_ui, np.array(level), connect="finite"))
    return tuple(found)


def _opening(measured: MeasuredEye) -> tuple[Stroke, ...]:
    """Height and width as strokes across the middle, for an instrument does not say where it saw them."""
    found = []
    if measured.height_v is not None:
        half = 0.5 * abs(measured.height_v)
        found.append(Stroke(np.array([0.5, 0.5]), np.array([-half, half])))
    if measured.width_ui is not None:
        half = 0.5 * measured.width_ui
        found.append(Stroke(np.array([0.5 - half, 0.5 + half]), np.zeros(2)))
    return tuple(found)
