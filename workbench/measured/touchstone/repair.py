"""Repairs of measured networks: offered, never done silently; each says what it changed and by how much.

The data as imported stay in the catalogue entry beside the repaired ones.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.parts.network import Network, PortPair, Repair, legs_of
from workbench.parts.networks.block import block_of
from workbench.parts.networks.curve import curve_of, passive, two_port_at, with_capacitor
from workbench.parts.networks.waves import scattering_of
from workbench.quantity import show

KINDS = ("reciprocity", "passivity", "rest", "band")
"""In the order in which they are done: what continues the band is made passive where it is made."""
_MOST_ADDED = 20_000
_FADE = 0.25


class Repaired(NamedTuple):
    """Data after a repair: frequencies in Hz, shape (n,), matrices, shape (ports, ports, n), and what was done."""

    f_hz: Floats
    s: Complexes
    repair: Repair


def made_reciprocal(f_hz: Floats, s: Complexes) -> Repaired:
    """Both directions of every element replaced by their mean.

    Args:
        f_hz: frequencies, Hz, shape (n,).
        s: matrices, shape (ports, ports, n).
    """
    mean = 0.5 * (s + np.swapaxes(s, 0, 1))
    return Repaired(f_hz, mean, _changed("reciprocity", f_hz, s, mean, "S_ij and S_ji are now their mean"))


def made_passive(f_hz: Floats, s: Complexes) -> Repaired:
    """The nearest passive matrix in place of each that is not passive: its singular values cut off at 1.

    Args:
        f_hz: frequencies, Hz, shape (n,).
        s: matrices, shape (ports, ports, n).
    """
    found = passive(s)
    count = int(np.any(found != s, axis=(0, 1)).sum())
    what = f"singular values above 1 at {count} of {f_hz.size} points are now 1"
    return Repaired(f_hz, found, _changed("passivity", f_hz, s, found, what))


def led_to_rest(network: Network, f_hz: Floats, s: Complexes) -> Repaired:
    """Points from 0 Hz to the first one, continued by what passive lines and lumped parts can do.

    Args:
        network: whose; its ways through and references.
        f_hz: frequencies, Hz, shape (n,).
        s: matrices, shape (ports, ports, n).
    """
    if f_hz[0] == 0.0:
        return Repaired(f_hz, s, Repair(kind="rest", did="0 Hz was measured; nothing was added"))
    step_hz = max(float(f_hz[1] - f_hz[0]), float(f_hz[0]) / 1000.0)
    # 0 Hz itself at least, also where the lowest point lies closer to it than points lie to each other.
    added = np.arange(0.0, max(float(f_hz[0]) - 0.25 * step_hz, 0.5 * float(f_hz[0])), step_hz)
    below = continued(network, f_hz, s, added)
    at_rest = ", ".join(
        f"{right}{left} {below[right - 1, left - 1, 0].real:.5f}" for left, right in _ways(network.pairs)
    )
    points = "1 point" if added.size == 1 else f"{added.size} points"
    did = f"{points} added from 0 Hz to {show(float(f_hz[0]), 'Hz')} by the trend of the lowest; at 0 Hz S{at_rest}"
    repair = Repair(kind="rest", did=did, largest_change=0.0)
    return Repaired(np.concatenate([added, f_hz]), np.concatenate([below, s], axis=2), repair)


def extended(network: Network, f_hz: Floats, s: Complexes, to_hz: float) -> Repaired:
    """Points above the band up to `to_hz` (Hz), by a fall-off whose reactance belongs to its loss.

    Args:
        network: whose; its ways through and references.
        f_hz: frequencies, Hz, shape (n,).
        s: matrices, shape (ports, ports, n).
        to_hz: where the new band ends, Hz.
    """
    step_hz = max(float(f_hz[-1] - f_hz[-2]), (to_hz - float(f_hz[-1])) / _MOST_ADDED)
    added = np.arange(f_hz[-1] + step_hz, to_hz + 0.5 * step_hz, step_hz)
    if not added.size:
        did = f"the band reaches {show(float(f_hz[-1]), 'Hz')} already; nothing was added"
        return Repaired(f_hz, s, Repair(kind="band", did=did))
    above = continued(network, f_hz, s, added)
    did = f"{added.size} points added above {show(float(f_hz[-1]), 'Hz')} up to {show(float(added[-1]), 'Hz')}, by a " \
        f"causal fall-off from the trend of the upper half"  # fmt: skip
    return Repaired(
        np.concatenate([f_hz, added]), np.concatenate([s, above], axis=2), Repair(kind="band", did=did)
    )


def continued(network: Network, f_hz: Floats, s: Complexes, at_hz: Floats) -> Complexes:
    """The matrices at frequencies outside the band, shape (ports, ports, m), passive.

    Through paths are continued as the path does it (`network_curve`); coupling fades out, on either side.

    Args:
        network: whose; its ways through and references.
        f_hz: its frequencies, Hz, shape (n,).
        s: its matrices, shape (ports, ports, n).
        at_hz: where, Hz, shape (m,).
    """
    below = at_hz < f_hz[0]
    away = np.where(below, (f_hz[0] - at_hz) / max(f_hz[0], 1.0), (at_hz - f_hz[-1]) / f_hz[-1])
    fading = np.where(below, 1.0 - away, 1.0 / (1.0 + (away / _FADE) ** 2))
    edge = np.where(below, s[:, :, :1], s[:, :, -1:])
    found = edge * fading
    found[:, :, at_hz == 0.0] = found[:, :, at_hz == 0.0].real
    for left, right in _ways(network.pairs):
        at = np.array([left, right]) - 1
        # A leg alone is continued as the pair of two such legs is: the same waves in twice the reference.
        legs = 2.0 if network.ports_are == "single-ended" else 1.0
        left_ohm, right_ohm = (legs * network.reference_ohm[port - 1] for port in (left, right))
        curve = curve_of(f_hz, s[np.ix_(at, at)], left_ohm, right_ohm)
        whole = with_capacitor(curve, two_port_at(curve, at_hz), at_hz)
        found[np.ix_(at, at)] = scattering_of(whole, left_ohm, right_ohm)
        if curve.elastance_per_f > 0.0:
            found[np.ix_(at, at, np.nonzero(at_hz == 0.0)[0])] = np.eye(2)[:, :, None]
    return passive(found)


def repaired(network: Network, kinds: Sequence[str], *, to_hz: float | None = None) -> Network:
    """The network with some of the `KINDS` of repair done, the data as imported kept beside.

    Args:
        network: the catalogue entry.
        kinds: which repairs; done in the order of `KINDS`.
        to_hz: where "band" ends, Hz; twice the present band by default.
    """
    f_hz, s = network.matrices()
    done = []
    for kind in KINDS:
        if kind not in kinds:
            continue
        if kind == "reciprocity":
            step = made_reciprocal(f_hz, s)
        elif kind == "passivity":
            step = made_passive(f_hz, s)
        elif kind == "rest":
            step = led_to_rest(network, f_hz, s)
        else:
            step = extended(network, f_hz, s, to_hz if to_hz is not None else 2.0 * float(f_hz[-1]))
        f_hz, s = step.f_hz, step.s
        done.append(step.repair)
    first = not network.original
    return replace(
        network,
        points=f_hz.size,
        data=block_of(f_hz, s),
        repairs=(*network.repairs, *done),
        original=network.data if first else network.original,
        original_points=network.points if first else network.original_points,
    )


def _ways(pairs: tuple[PortPair, ...]) -> tuple[tuple[int, int], ...]:
    return tuple(way for pair in pairs for way in legs_of(pair))


def _changed(kind: str, f_hz: Floats, before: Complexes, after: Complexes, what: str) -> Repair:
    change = np.abs(after - before)
    largest = float(change.max())
    where = float(f_hz[change.max(axis=(0, 1)).argmax()])
    rms = float(np.sqrt(np.mean(change**2)))
    did = f"{what}: by at most {largest:.2g} (at {show(where, 'Hz')}), {rms:.2g} rms" if largest else \
        f"{what}: nothing had to change"  # fmt: skip
    return Repair(kind=kind, did=did, largest_change=largest)  # type: ignore[arg-type]  # one of the words
