"""Copper foils: skin effect from rest to high frequency, and what roughness does to it."""

import math
from functools import cache
from typing import Annotated, ClassVar

import numpy as np

from workbench.facts import choice, quantity
from workbench.parts.record import Name, Record
from workbench.parts.twoport import Complexes, Floats

PERMEABILITY_H_PER_M = 1.25663706127e-6
_STEPS = 480


class Smooth(Record, tag="smooth", tag_field="kind", kw_only=True):
    """No roughness."""

    def factor(self, delta_m: Floats) -> Complexes:
        """1 at every skin depth `delta_m` (m, shape (n,))."""
        return np.ones(delta_m.size, np.complex128)


class Hammerstad(Record, tag="hammerstad", tag_field="kind", kw_only=True):
    """Roughness by its rms height; at most doubles the loss."""

    rms_m: Annotated[float, quantity("m", "Rms height", "Root mean square height of the profile.", ge=0.0, le=1e-4)]

    def factor(self, delta_m: Floats) -> Complexes:
        """Complex factor on ``(1 + j) Rs`` at skin depths `delta_m` (m, shape (n,)).

        Its resistance is ``1 + (2/pi) atan(1.4 (rms/delta)^2)`` times the smooth one: E. Hammerstad, O. Jensen,
        "Accurate models for microstrip computer-aided design", IEEE MTT-S Digest 1980, 407-409. The formula says
        nothing of the reactance; causality does, through the Kramers-Kronig relation (`_hammerstad_reactance`).
        """
        x = self.rms_m / delta_m
        log_x, reactance = _hammerstad_reactance()
        resistive = _hammerstad(x)
        reactive = np.interp(np.log(np.maximum(x, _LEAST_ROUGHNESS)), log_x, reactance)
        # Below the table what roughness adds is an inductance: it goes as w, x^2, over the smooth part's x.
        reactive = 1.0 + (reactive - 1.0) * np.minimum(x / _LEAST_ROUGHNESS, 1.0)
        return np.asarray((resistive + 1j * reactive) / (1.0 + 1.0j), np.complex128)


_LEAST_ROUGHNESS = 1e-3
_MOST_ROUGHNESS = 1e3


def _hammerstad(x: Floats) -> Floats:
    return np.asarray(1.0 + (2.0 / np.pi) * np.arctan(1.4 * x**2))


@cache
def _hammerstad_reactance() -> tuple[Floats, Floats]:
    """Reactance over the smooth surface resistance that belongs to Hammerstad's resistance, by ln(rms/delta).

    A surface impedance ``R + jX`` that starts from a short obeys ``X(w) = (2 w / pi) P int R(w') / (w'^2 - w^2) dw'``
    (Kramers and Kronig). With x = rms/delta, w goes as x^2 and the smooth part ``R = X = x`` is known, so only what
    roughness adds is integrated: over ln w', with the value at w taken off to remove the pole. Beyond the last x the
    factor is 2, so that ``R = x`` again.
    """
    spread = np.log(_MOST_ROUGHNESS / _LEAST_ROUGHNESS)
    at = np.log(_LEAST_ROUGHNESS) + spread * (np.arange(_STEPS) + 0.5) / _STEPS
    nodes = np.log(_LEAST_ROUGHNESS) + spread * np.arange(_STEPS + 1) / _STEPS
    x, y = np.exp(at)[:, None], np.exp(nodes)[None, :]
    added = (_hammerstad(y) - 1.0) * y
    here = (_hammerstad(x) - 1.0) * x
    # dw' = 2 w' d(ln y), and w = x^2.
    integrand = (added - here) * 2.0 * x**2 * y**2 / (y**4 - x**4)
    reactance = (2.0 / np.pi) * np.trapezoid(integrand, nodes, axis=1)
    reactance += _beyond(x[:, 0], here[:, 0])
    return at, np.asarray(1.0 + reactance / x[:, 0])


def _beyond(x: Floats, here: Floats) -> Floats:
    """The integral from the last node to infinity, where the added resistance is y, and from rest to the first node.

    ``int (y - here) 2 x^2 y / (y^4 - x^4) dy`` with x far below the last node; near it the reactance is that of a
    factor 2 anyway, and nothing in a board's range lies there.
    """
    last = _MOST_ROUGHNESS
    far = np.minimum(2.0 * x**2 / last - here * x**2 / last**2, x)
    return np.asarray((2.0 / np.pi) * far)


class Huray(Record, tag="huray", tag_field="kind", kw_only=True):
    """Roughness as spherical nodules on the foil."""

    nodule_radius_m: Annotated[float, quantity("m", "Nodule radius", "Radius of the copper nodules.", ge=1e-9, le=1e-4)]
    area_ratio: Annotated[
        float, quantity("", "Area ratio", "Surface of all nodules over the flat area below.", ge=0.0, le=20.0)
    ]

    def factor(self, delta_m: Floats) -> Complexes:
        """``1 + 1.5 area_ratio / (1 + (1 - j) delta / (2 a))`` at skin depths `delta_m` (m, shape (n,)).

        E. Bracken, "A causal Huray model for surface roughness", DesignCon 2012: the complex factor on
        ``(1 + j) Rs``. Its resistive part is that of P. G. Huray, The Foundations of Signal Integrity, Wiley 2010:
        ``1 + 1.5 area_ratio / (1 + delta/a + 0.5 (delta/a)^2)``.
        """
        slow = (1.0 - 1.0j) * delta_m / (2.0 * self.nodule_radius_m)
        return np.asarray(1.0 + 1.5 * self.area_ratio / (1.0 + slow), np.complex128)


class Foil(Record, kw_only=True):
    """A copper foil: conductivity and roughness."""

    shelf: ClassVar[str | None] = "foils"

    name: Name
    conductivity_s_per_m: Annotated[
        float, quantity("S/m", "Conductivity", "Of the metal, at the board's temperature.", ge=1e5, le=1e8)
    ]
    roughness: Annotated[Smooth | Hammerstad | Huray, choice("Roughness", "How the rough side is described.")] = (
        Smooth()
    )

    def skin_depth_m(self, f_hz: Floats) -> Floats:
        """Skin depth ``1 / sqrt(pi f mu sigma)`` in m at `f_hz` (Hz above 0, shape (n,))."""
        return np.asarray(1.0 / np.sqrt(math.pi * f_hz * PERMEABILITY_H_PER_M * self.conductivity_s_per_m))

    def surface_resistance_ohm(self, f_hz: Floats) -> Floats:
        """Resistance of a smooth square ``sqrt(pi f mu / sigma)`` in ohm at `f_hz` (Hz, shape (n,))."""
        return np.asarray(np.sqrt(math.pi * f_hz * PERMEABILITY_H_PER_M / self.conductivity_s_per_m))

    def internal_impedance(self, f_hz: Floats, *, rest_ohm_per_m: float, squares_per_m: float) -> Complexes:
        """Internal impedance per metre of a conductor at `f_hz` (Hz, shape (n,)), ohm/m, complex.

        ``R sqrt(1 + j w / ws)`` with ws such that far above it the impedance is ``(1 + j) Rs squares_per_m``; roughness
        multiplies it.

        Args:
            f_hz: Hz, shape (n,).
            rest_ohm_per_m: resistance at 0 Hz, ohm/m.
            squares_per_m: resistance at high frequency over the surface resistance, 1/m: one over the width that
                carries the current, summed over what carries it.
        """
        moving = np.where(f_hz > 0.0, f_hz, 1.0)
        # (1 + j) Rs q = sqrt(2 j) sqrt(pi f mu / sigma) q = sqrt(j w mu / sigma) q.
        skin = 2j * np.pi * f_hz * PERMEABILITY_H_PER_M / self.conductivity_s_per_m * squares_per_m**2
        smooth = np.sqrt(rest_ohm_per_m**2 + skin)
        rough = np.where(f_hz > 0.0, self.roughness.factor(self.skin_depth_m(moving)), 1.0)
        return np.asarray(smooth * rough, np.complex128)
