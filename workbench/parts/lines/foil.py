"""Copper foils: skin effect from rest to high frequency, and what roughness does to it."""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.imperfections import LOSS, IdealValues
from workbench.parts.record import Name, Record

PERMEABILITY_H_PER_M = 1.25663706127e-6

PERFECT_S_PER_M = 1e20
"""Conductivity of copper without resistance, as good as."""


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
        nothing of the reactance. The one function that has this resistance and is causal (analytic in the right half
        of the s plane, no pole at infinity) is, derived here,

            ``K = 1 + (2/pi) [ln(1 + Q) - ln(1 + Q^2) / 2 + atan Q]``,  ``Q = sqrt(0.7) (1 + j) rms/delta``,

        a function of sqrt(j w) alone; ``Re{(1 + j) K}`` is Hammerstad's factor exactly.
        """
        y = math.sqrt(0.7) * self.rms_m / delta_m
        # Q = y (1 + j): the real part of the bracket in real terms, several times faster than complex log and atan.
        swell = 0.5 * np.log1p(4.0 * y / (1.0 - 2.0 * y + 2.0 * y**2)) + np.arctan2(2.0 * y, 1.0 - 2.0 * y**2)
        real = 1.0 + swell / np.pi
        resistive = 1.0 + (2.0 / np.pi) * np.arctan(2.0 * y**2)
        return np.asarray(real + 1j * (real - resistive), np.complex128)


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

    section: ClassVar[str | None] = "foils"
    ideal_values: ClassVar[IdealValues] = {LOSS: {"conductivity_s_per_m": PERFECT_S_PER_M, "roughness": Smooth()}}

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
