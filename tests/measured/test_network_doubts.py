"""What is doubtful in a network's data stands on every lane that uses it, with what it does to the eye.

The networks are invented; each size is held against the lane assessed by hand with the data mended.
"""

import re

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import assessed
from tests.measured.networks import F_HZ, channel, measured
from tests.measured.test_export_commands import board_through
from workbench.engine.assess import assess_board
from workbench.measured.touchstone.ports import entry_of, guessed_ports
from workbench.parts.networks.curve import passive


def network(s, f_hz=F_HZ):
    one = measured(s, f_hz, 100.0)
    return entry_of(one, "jumper", guessed_ports(one))


def lane(s, f_hz=F_HZ):
    return assessed(board_through(network(s, f_hz)))


def doubts(found):
    return [finding for finding in found.findings if finding.rule.startswith("network-")]


def size_v(text: str) -> float:
    """The size that a sentence ends with, signed: how much higher the eye is when mended, V."""
    found = re.search(r"the eye is (\S+) (u|µ|m|n|p)?V (higher|lower)$", text)
    assert found is not None, text
    scale = {"m": 1e-3, "u": 1e-6, "µ": 1e-6, "n": 1e-9, "p": 1e-12, None: 1.0}[found[2]]
    return float(found[1]) * scale * (1.0 if found[3] == "higher" else -1.0)


def test_sound_data_raise_no_doubt():
    assert doubts(lane(channel())) == []


@pytest.mark.campaign
def test_power_is_told_with_what_it_does_to_the_eye():
    # Held against the same lane with singular values cut off (N. J. Higham, 1989: the nearest passive matrices).
    s = channel() * (1.0 + 0.5 * np.exp(-(((F_HZ - 1e9) / 1e9) ** 2)))
    (found,) = [one for one in doubts(lane(s)) if "is not passive" in one.text]
    mended = lane(passive(s)).eye.height_v - lane(s).eye.height_v
    assert size_v(found.text) == pytest.approx(mended, rel=0.06)
    assert found.severity == "warning"


@pytest.mark.campaign
def test_a_late_start_is_told_with_what_it_does_to_the_eye():
    late = F_HZ >= 1e9
    s, f_hz = channel()[:, :, late], F_HZ[late]
    (found,) = doubts(lane(s, f_hz))
    assert "begins at 1 GHz" in found.text
    at_rest = np.zeros((2, 2, 1), np.complex128)
    at_rest[[0, 1], [1, 0], 0] = np.abs(s[[0, 1], [1, 0], 0])
    held = lane(np.concatenate([at_rest, s], axis=2), np.concatenate([[0.0], f_hz]))
    assert size_v(found.text) == pytest.approx(held.eye.height_v - lane(s, f_hz).eye.height_v, rel=0.06)
    # The truth lies nearer to the trend than what is told: the size is no understatement.
    truth = lane(channel())
    assert abs(truth.eye.height_v - lane(s, f_hz).eye.height_v) < abs(size_v(found.text)) + 1e-3


@pytest.mark.campaign
def test_wide_spacing_is_told_with_what_leaving_out_points_does():
    f_hz = np.arange(1, 81) * 2.5e8
    s = channel(f_hz, 0.1)  # 1.4 ns of delay against 4 ns
    (found,) = [one for one in doubts(lane(s, f_hz)) if "echoes are folded" in one.text]
    half = lane(s[:, :, 1::2], f_hz[1::2])
    assert size_v(found.text) == pytest.approx(half.eye.height_v - lane(s, f_hz).eye.height_v, rel=0.06)
    # Still wider, and half of them would not even show the delay.
    wide_hz = np.arange(1, 57) * 3.5e8
    (told,) = [one for one in doubts(lane(channel(wide_hz, 0.1), wide_hz)) if "echoes are folded" in one.text]
    assert "the size is not known" in told.text
    assert told.severity == "warning"
    assert not any("echoes" in one.text for one in doubts(lane(channel(f_hz, 0.01), f_hz)))


@pytest.mark.parametrize(
    ("s", "f_hz", "words"),
    [
        (channel(np.array([1.0, 2.0, 3.0]) * 1e9), np.array([1.0, 2.0, 3.0]) * 1e9, "3 points"),
        (np.conj(channel()), F_HZ, "conjugated"),
        (channel() * 3.0, F_HZ, "amplifies"),
    ],
)
def test_a_board_that_holds_unusable_data_says_so_on_its_lanes(s, f_hz, words):
    (found,) = doubts(lane(s, f_hz))
    assert (found.severity, found.rule) == ("error", "network-unusable")
    assert words in found.text


@pytest.mark.campaign
def test_every_lane_that_uses_it_says_so():
    s = channel() * (1.0 + 0.5 * np.exp(-(((F_HZ - 1e9) / 1e9) ** 2)))
    board = board_through(network(s))
    board = replace(board, lanes=(board.lanes[0], replace(board.lanes[0], name="D1")))
    found = assess_board(board, sha256="")
    assert all(doubts(one) for one in found.lanes)
    assert doubts(found.lanes[0]) == doubts(found.lanes[1])


@pytest.mark.campaign
def test_answers_before_the_cause_are_told_with_what_they_close():
    # An echo of 8 % that comes 1.1 ns, 5.5 UI at 5 Gb/s, too early: half a UI from two cursors, which share it.
    early = channel()
    early[[0, 1], [1, 0]] *= 1.0 + 0.08 * np.exp(2j * np.pi * F_HZ * 1.1e-9)
    (told,) = [one for one in doubts(lane(early)) if "before the stimulus" in one.text]
    peak_v = lane(channel()).pulse.peak_v
    assert 0.8 * 2.0 * 0.08 * peak_v < size_v(told.text) < 1.5 * 2.0 * 0.08 * peak_v
    assert told.severity == "warning"
    assert told.rule == "network-data"
