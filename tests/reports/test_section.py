"""The section command: figures, the width or gap for an impedance, refusals in a sentence."""

import json

import numpy as np
import pytest

from workbench.board.model import Board, Catalogue
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.lines.microstrip import MicrostripPair
from workbench.parts.lines.stripline import StriplinePair

CORE = Dielectric(name="core", permittivity=4.3, loss_tangent=0.0, frequency_hz=1e9)
FOIL = Foil(name="foil", conductivity_s_per_m=5.8e7)
# The practical row of the moment method's table: w 0.11, s 0.16, t 0.015, b 0.27 mm, er 3.7, Z_diff 95.746 ohm.
INNER = StriplinePair(
    name="inner", dielectric="resin", foil="foil", width_m=1.1e-4, gap_m=1.6e-4, thickness_m=1.5e-5, below_m=1.275e-4,
    above_m=1.275e-4,
)  # fmt: skip
OUTER = MicrostripPair(
    name="outer", dielectric="core", foil="foil", width_m=1.3e-4, gap_m=1.7e-4, thickness_m=4e-5, height_m=1e-4,
    mask_m=2.5e-5, mask_on_trace_m=1.5e-5, mask_dielectric="resin",
)  # fmt: skip
STATED = LineByLoss(
    name="stated", impedance_ohm=100.0, permittivity=4.0, frequency_hz=1e9, conductor_loss_db_per_m=1.0,
    dielectric_loss_db_per_m=1.0,
)  # fmt: skip


@pytest.fixture
def path(tmp_path):
    resin = Dielectric(name="resin", permittivity=3.7, loss_tangent=0.01, frequency_hz=1e9)
    catalogue = Catalogue(dielectrics=(CORE, resin), foils=(FOIL,), lines=(INNER, OUTER, STATED))
    save_board(Board(title="bench", profile="pcie-2", catalogue=catalogue), tmp_path / "a.board.json")
    return str(tmp_path / "a.board.json")


def figures(capsys, *words):
    assert main(["section", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_pair_alone_has_the_moment_methods_impedances(path, capsys):
    found = figures(capsys, path, "--line", "inner")
    # Moment method outside the program: Z0e 54.610, Z0o 47.873.
    assert found["differential_impedance_ohm"] == pytest.approx(95.746, rel=5e-4)
    assert found["common_impedance_ohm"] == pytest.approx(0.5 * 54.610, rel=5e-4)
    assert found["effective_permittivity"] == pytest.approx(3.7, rel=1e-9)
    assert found["backward_coupling"] is None
    # One dielectric: L C is its speed, and G its loss tangent (0.01 at 1 GHz, a little more at 2.5).
    c, inductance = np.array(found["capacitance_f_per_m"]), np.array(found["inductance_h_per_m"])
    assert c @ inductance * 299_792_458.0**2 == pytest.approx(3.7 * np.eye(2), abs=1e-6)
    omega = 2.0 * np.pi * found["frequency_hz"]
    assert np.array(found["conductance_s_per_m"])[0, 0] == pytest.approx(0.01 * omega * c[0, 0], rel=0.02)
    assert found["frequency_hz"] == 2.5e9  # the profile's Nyquist
    assert np.all(np.linalg.eigvalsh(found["resistance_ohm_per_m"]) > 0.0)


def test_a_neighbour_adds_coupling_and_traces(path, capsys):
    found = figures(capsys, path, "--line", "outer", "--gap", "0.4mm", "--frequency", "5GHz")
    assert found["frequency_hz"] == 5e9
    assert np.array(found["capacitance_f_per_m"]).shape == (4, 4)
    assert 20.0 * np.log10(abs(found["backward_coupling"])) == pytest.approx(-47.2, abs=0.3)
    assert found["forward_coupling_s_per_m"] > 0.0
    assert found["line_impedance_ohm"] == pytest.approx(found["differential_impedance_ohm"], rel=0.03)


@pytest.mark.parametrize(("wish", "field"), [("width=90ohm", "width_m"), ("gap=93 ohm", "gap_m")])
def test_solving_for_a_dimension_gives_the_impedance_asked_for(path, capsys, wish, field):
    before = figures(capsys, path, "--line", "inner")["dimensions"]
    found = figures(capsys, path, "--line", "inner", "--solve", wish)
    assert found["differential_impedance_ohm"] == pytest.approx(float(wish.split("=")[1].split("o")[0]), rel=1e-5)
    assert found["dimensions"][field] != before[field]
    assert {k: v for k, v in found["dimensions"].items() if k != field} == {
        k: v for k, v in before.items() if k != field
    }


def test_as_text_it_names_its_figures(path, capsys):
    assert main(["section", path, "--line", "outer", "--gap", "0.4 mm"]) == 0
    text = capsys.readouterr().out
    for words in ("outer, cross-section solved", "differential impedance", "backward coupling", "dB)", "ps/m"):
        assert words in text


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--line", "none"], "there is no line"),
        (["--line", "stated"], "has no cross-section"),
        (["--line", "inner", "--gap=-1mm"], "not a distance"),
        (["--line", "inner", "--gap", "5 m"], "differ by more than"),
        (["--line", "inner", "--solve", "height=3ohm"], "width=100ohm"),
        (["--line", "inner", "--solve", "width=0ohm"], "above 0 ohm"),
        (["--line", "inner", "--solve", "gap=500ohm"], "no gap gives 500 ohm"),
        (["--line", "inner", "--frequency", "0Hz"], "not above 0 Hz"),
    ],
)
def test_what_can_not_be_is_refused_in_a_line(path, capsys, words, sentence):
    assert main(["section", path, *words]) == 2
    error = capsys.readouterr().err
    assert sentence in error
    assert error.count("\n") == 1
