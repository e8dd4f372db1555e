"""Repairs and fixture removal: what changes and by how much, what stays; removal against scikit-rf."""

from pathlib import Path

import numpy as np
import pytest
import skrf

from tests.measured.networks import F_HZ, channel, legs, measured
from workbench.errors import NetworkError
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.reading import read_touchstone
from workbench.measured.touchstone.repair import KINDS, extended, led_to_rest, made_passive, made_reciprocal, repaired
from workbench.measured.touchstone.repair_fixture import WithPorts, removed
from workbench.parts.networks.waves import chain_of, scattering_of
from workbench.parts.twoport import cascade

SHIPPED = Path(skrf.__file__).parent / "data"


def network(s=None, f_hz=F_HZ):
    found = measured(legs([(1, 3), (2, 4)], {(0, 1): 0.05}, f_hz) if s is None else s, f_hz)
    return network_of(found, "jumper", guessed_ports(found))


def test_reciprocity_is_the_mean_and_tells_its_change():
    s = channel()
    s[0, 1, 30] += 0.02
    found = made_reciprocal(F_HZ, s)
    assert np.array_equal(found.s, np.swapaxes(found.s, 0, 1))
    assert found.repair.largest_change == pytest.approx(0.01)
    assert "0.01 (at 775 MHz)" in found.repair.did


def test_passivity_cuts_singular_values_and_leaves_passive_points_alone():
    s = channel()
    s[:, :, 50] *= 1.5 / np.linalg.svd(s[:, :, 50], compute_uv=False)[0]
    found = made_passive(F_HZ, s)
    assert np.linalg.svd(np.moveaxis(found.s, -1, 0), compute_uv=False).max() <= 1.0 + 1e-12
    assert np.array_equal(np.delete(found.s, 50, axis=2), np.delete(s, 50, axis=2))
    # Nearest in the sum of squares: no step towards another passive matrix is shorter (Higham 1989).
    mine = np.linalg.norm(found.s[:, :, 50] - s[:, :, 50])
    assert mine <= np.linalg.norm(s[:, :, 50] / 1.5 - s[:, :, 50])
    assert "1 of 800 points" in found.repair.did


def test_the_way_to_rest_is_the_model_s_own():
    # Measured from 100 MHz in steps of 25 MHz; the model goes to 0 Hz.
    seen = F_HZ >= 1e8
    found = led_to_rest(network(f_hz=F_HZ[seen]), F_HZ[seen], legs([(1, 3), (2, 4)], {(0, 1): 0.05}, F_HZ[seen]))
    assert found.f_hz[:5].tolist() == [0.0, 2.5e7, 5e7, 7.5e7, 1e8]
    assert np.all(found.s[:, :, 0].imag == 0.0)
    assert found.s[2, 0, 0].real == pytest.approx(1.0, abs=2e-2)
    known = legs([(1, 3), (2, 4)], {(0, 1): 0.05})
    assert np.abs(found.s[2, 0, 1:4] - known[2, 0, :3]).max() < 1e-2
    assert np.array_equal(found.s[:, :, 4:], legs([(1, 3), (2, 4)], {(0, 1): 0.05}, F_HZ[seen]))
    assert "4 points added" in found.repair.did


def test_the_band_is_extended_passively_and_falls():
    known = network()
    s = known.matrices().s
    found = extended(known, F_HZ, s, 4e10)
    assert found.f_hz[-1] == pytest.approx(4e10)
    assert np.array_equal(found.s[:, :, :800], s)
    assert np.linalg.svd(np.moveaxis(found.s, -1, 0), compute_uv=False).max() <= 1.0 + 1e-12
    beyond = np.abs(found.s[2, 0, 799:])
    assert np.diff(beyond).max() < 1e-3
    assert beyond[-1] < beyond[0]
    # The model itself goes on: its own loss at 25 GHz within 2 dB (found: 1.3).
    at = np.searchsorted(found.f_hz, 2.5e10)
    model = channel(np.array([found.f_hz[at]]))[1, 0, 0]
    assert 20.0 * np.log10(np.abs(found.s[2, 0, at] / model)) == pytest.approx(0.0, abs=2.0)


def test_repairs_are_kept_with_the_data_as_imported():
    known = network()
    once = repaired(known, ["passivity"])
    twice = repaired(once, ["rest", "band"], to_hz=2.2e10)
    assert [repair.kind for repair in twice.repairs] == ["passivity", "rest", "band"]
    assert twice.problems() == ()
    assert np.array_equal(twice.original_matrices().s, known.matrices().s)
    assert twice.points == 1 + 800 + 80
    assert repaired(known, []).matrices().s.shape == known.matrices().s.shape
    assert set(KINDS) == {"reciprocity", "passivity", "rest", "band"}


def test_nothing_to_repair_is_said():
    s = channel(np.concatenate([[0.0], F_HZ]))
    known = network_of(found := measured(s, np.concatenate([[0.0], F_HZ]), 100.0), "x", guessed_ports(found))
    again = repaired(known, KINDS, to_hz=2e10)
    assert all("nothing" in repair.did for repair in again.repairs)
    assert np.array_equal(again.matrices().s, s)


# Fixture removal -------------------------------------------------------------------------------------------------


def shipped(name: str) -> tuple[WithPorts, skrf.Network]:
    found = read_touchstone(SHIPPED / name)
    return WithPorts(found.f_hz, found.s, *found.reference_ohm), skrf.Network(str(SHIPPED / name))


def test_cascade_and_removal_are_those_of_scikit_rf():
    (line, line_skrf), (ring, ring_skrf) = shipped("line.s2p"), shipped("ring slot.s2p")
    whole = scattering_of(cascade(*(chain_of(part.s, 50.0, 50.0) for part in (line, ring, line))), 50.0, 50.0)
    known = line_skrf**ring_skrf**line_skrf
    assert np.moveaxis(whole, -1, 0) == pytest.approx(known.s, abs=1e-12)
    found = removed(WithPorts(line.f_hz, whole, 50.0, 50.0), left=line, right=line)
    assert np.moveaxis(found.network.s, -1, 0) == pytest.approx((line_skrf.inv**known**line_skrf.inv).s, abs=1e-12)
    assert found.network.s == pytest.approx(ring.s, abs=1e-12)
    assert found.warnings == ()


def test_what_lets_next_to_nothing_through_is_warned_of():
    faint = WithPorts(F_HZ, 0.02 * channel(), 100.0, 100.0)
    whole = scattering_of(cascade(chain_of(faint.s, 100.0, 100.0), chain_of(channel(), 100.0, 100.0)), 100.0, 100.0)
    found = removed(WithPorts(F_HZ, whole, 100.0, 100.0), left=faint)
    assert found.network.s == pytest.approx(channel(), abs=1e-8)
    assert "next to nothing" in found.warnings[0]
    assert "800 of 800" in found.warnings[0]


def test_a_fixture_of_another_spacing_is_read_between_its_points_and_not_beyond():
    fixture_hz = np.arange(1, 401) * 5e7
    fixture = WithPorts(fixture_hz, channel(fixture_hz, 0.02), 100.0, 100.0)
    inside = F_HZ[F_HZ >= 5e7]
    parts = (chain_of(channel(inside, 0.02), 100.0, 100.0), chain_of(channel(inside), 100.0, 100.0))
    whole = scattering_of(cascade(*parts), 100.0, 100.0)
    found = removed(WithPorts(inside, whole, 100.0, 100.0), left=fixture)
    assert found.network.s == pytest.approx(channel(inside), abs=1e-4)
    with pytest.raises(NetworkError, match="known from 50 MHz"):
        removed(WithPorts(F_HZ, channel(), 100.0, 100.0), right=fixture)
