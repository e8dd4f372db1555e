"""The commands that take lists and measurements in: what they say, write, and leave as exit status.

Every file is made here, with values that are then looked for in the output.
"""

import io
import json
import sys

import numpy as np
import pytest
from msgspec.structs import replace

from tests.measured.test_fit import BOARD, F_HZ, network, with_values
from workbench.board.reading import load_board
from workbench.board.writing import dump_board
from workbench.cli import main
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.reading import read_touchstone


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shelf.board.json").write_bytes(dump_board(BOARD))
    (tmp_path / "routing.csv").write_text("Lane,Card (mm),Cable (mm)\nD0,100,200\nD9,1,2\n")
    s = network(BOARD, between=(1, 2))
    rows = zip(F_HZ.tolist(), s.s21.real.tolist(), s.s21.imag.tolist(), strict=True)
    (tmp_path / "loss.csv").write_text("f (Hz),Re(S21),Im(S21)\n" + "\n".join(f"{f!r},{a!r},{b!r}" for f, a, b in rows))
    (tmp_path / "edge.s2p").write_text(touchstone(s))
    return tmp_path


def touchstone(s) -> str:
    columns = [part for name in ("s11", "s21", "s12", "s22") for part in (getattr(s, name).real, getattr(s, name).imag)]
    rows = np.array([F_HZ, *columns]).T.tolist()
    return "\n".join(["# Hz S RI R 100", *(" ".join(map(repr, row)) for row in rows)]) + "\n"


def said(capsys, *words: str) -> tuple[int, str, str]:
    status = main(list(words))
    out, err = capsys.readouterr()
    return status, out, err


RUNS = ("--template", "D0", "--run", "1=Card", "3=Cable")


def test_a_lane_list_reports_and_writes_only_when_asked(files, capsys):
    status, out, _ = said(capsys, "lanes", "shelf.board.json", "routing.csv", *RUNS)
    assert status == 0
    assert ["D0", "1", "200", "mm", "100", "mm"] in [line.split() for line in out.splitlines()]
    assert "line 3, D9: the board has no such lane" in out
    assert load_board(files / "shelf.board.json").board == BOARD
    status, _, err = said(capsys, "lanes", "shelf.board.json", "routing.csv", *RUNS, "-o", "new.board.json")
    assert (status, err) == (0, 'wrote "new.board.json"\n')
    path = load_board(files / "new.board.json").board.lanes[0].path
    assert (path[0].length_m, path[2].length_m) == (0.1, 0.2)
    status, _, err = said(capsys, "lanes", "shelf.board.json", "routing.csv", *RUNS, "-o", "new.board.json")
    assert status == 2
    assert "is there already" in err


def test_cells_on_standard_input_are_a_list_too(files, capsys, monkeypatch):
    cells = io.TextIOWrapper(io.BytesIO(b"Lane\tCard\nD0\t4 in"))
    monkeypatch.setattr(sys, "stdin", cells)
    status, out, _ = said(capsys, "lanes", "shelf.board.json", "-", "--template", "D0", "--run", "1=Card", "--json")
    assert status == 0
    report = json.loads(out)
    assert report["changed"][0]["after_m"] == pytest.approx(0.1016)
    assert report["source"] == "standard input"


def test_what_a_list_leaves_open_names_the_option(files, capsys):
    (files / "bare.csv").write_text("Lane,Card\nD0,4\n")
    status, _, err = said(capsys, "lanes", "shelf.board.json", "bare.csv", "--template", "D0", "--run", "1=Card")
    assert status == 2
    assert err.startswith("link-margin: bare.csv, line 2: ")
    assert err.endswith(" (--unit)\n")
    status, _, err = said(capsys, "lanes", "shelf.board.json", "bare.csv", "--template", "D0", "--run", "Card")
    assert "ELEMENT=TITLE" in err


def test_a_response_beside_its_stretch(files, capsys):
    words = ("overlay", "shelf.board.json", "loss.csv", "--what", "transmission", "--lane", "D0", "--elements", "1-2")
    status, out, _ = said(capsys, *words)
    assert status == 0
    assert out.startswith("loss.csv, elements 1 to 2\n")
    assert "rms 0 dB" in out or "e-1" in out
    status, out, _ = said(capsys, *words, "--json", "--write")
    (overlay,) = json.loads(out)
    assert overlay["difference"]["rms"] < 1e-9
    assert len(overlay["x"]) == F_HZ.size
    kept = load_board(files / "shelf.board.json").board.measurements
    assert [one.name for one in kept] == ["loss.csv"]
    status, again, _ = said(capsys, "overlay", "shelf.board.json", "--json")
    assert json.loads(again) == json.loads(out)


@pytest.mark.parametrize("reference", [100.0, 50.0])
def test_a_one_port_is_a_reflection(files, capsys, reference):
    """One leg of 50 ohm sees half a pair of 100 ohm: the same reflection."""
    s11 = network(BOARD, between=(1, 2)).s11
    rows = np.array([F_HZ, s11.real, s11.imag]).T.tolist()
    text = "\n".join([f"# Hz S RI R {reference:g}", *(" ".join(map(repr, row)) for row in rows)])
    (files / "return.s1p").write_text(text + "\n")
    words = ("--lane", "D0", "--elements", "1-2", "--json")
    status, out, _ = said(capsys, "overlay", "shelf.board.json", "return.s1p", *words)
    assert status == 0
    (overlay,) = json.loads(out)
    assert overlay["y_label"] == "return loss"
    assert overlay["difference"]["rms"] < 1e-6


@pytest.mark.campaign
def test_an_eye_by_its_figures(files, capsys):
    words = ("--what", "eye", "--lane", "D1", "--probe", "receiver", "--height", "210 mV", "--width", "0.6")
    status, out, _ = said(capsys, "overlay", "shelf.board.json", *words)
    assert status == 0
    assert "eye height: measured 210 mV, model " in out
    status, _, err = said(capsys, "overlay", "shelf.board.json", "--what", "eye", "--lane", "D1", "--height", "x")
    assert status == 2
    assert err.startswith("link-margin: --height: ")


@pytest.mark.campaign
def test_a_waveform_beside_its_lane(files, capsys):
    """300 random bits at 5 Gb/s, 10 samples a UI, against lane D1: what it says is the recovered rate and an eye."""
    level = np.repeat(np.random.default_rng(1).choice([-0.4, 0.4], 300), 10)
    smooth = np.convolve(level, np.ones(4) / 4, "same")
    rows = [f"{n * 20};{1e3 * v:.1f}".replace(".", ",") for n, v in enumerate(smooth.tolist())]
    (files / "scope.csv").write_text("Time;Level (mV)\n" + "\n".join(rows))
    words = ("overlay", "shelf.board.json", "scope.csv", "--what", "waveform", "--lane", "D1")
    status, _, err = said(capsys, *words)
    assert status == 2
    assert err.endswith(" (--x-unit)\n")
    status, out, _ = said(capsys, *words, "--x-unit", "ps")
    assert status == 0
    assert "voltage, measured − model: rms " in out
    assert "eye height: measured " in out
    assert "ppm of the nominal rate" in out


@pytest.mark.parametrize(("words", "says"), [
    (("loss.csv",), "--lane"),
    (("loss.csv", "--lane", "D0"), "--what"),
    (("loss.csv", "--lane", "D0", "--what", "transmission", "--elements", "x"), "1-3"),
    (("loss.csv", "--lane", "D0", "--what", "waveform"), "64 at least"),
    (("loss.csv", "--lane", "D0", "--what", "waveform", "--sample-rate", "-5"), "above 0"),
    (("none.csv", "--lane", "D0", "--what", "waveform"), "no file"),
    (("loss.csv", "--lane", "X", "--what", "transmission", "--elements", "1-2"), "no lane"),
    (("--measured", "none"), "no measurement"),
    ((), "keeps no such measurement"),
    (("edge.s2p", "--lane", "D0", "--left", "none"), "no network"),
])  # fmt: skip
def test_what_can_not_be_is_refused_in_one_line(files, capsys, words, says):
    status, out, err = said(capsys, "overlay", "shelf.board.json", *words)
    assert (status, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1


def test_a_fit_says_and_writes_what_it_found(files, capsys):
    (files / "off.board.json").write_bytes(dump_board(with_values(BOARD, impedance_ohm=90.0, permittivity=4.2)))
    free = ("--free", "lines/card trace/impedance_ohm=80 ohm..120 ohm", "lines/card trace/permittivity")
    for data in (("loss.csv", "--what", "transmission"), ("edge.s2p",)):
        words = ("fit", "off.board.json", *data, "--lane", "D0", "--elements", "1-2", *free)
        status, out, _ = said(capsys, *words)
        assert status == 0
        assert ["trace/impedance_ohm", "90", "ohm", "100", "ohm"] in [line.split()[1:6] for line in out.splitlines()]
        status, out, _ = said(capsys, *words, "--json", "-o", f"{data[0]}.board.json")
        values = json.loads(out)["values"]
        assert [value["after"] for value in values] == pytest.approx([100.0, 3.9], rel=1e-5)
        line = load_board(files / f"{data[0]}.board.json").board.catalogue.lines[0]
        assert [line.impedance_ohm, line.permittivity] == [value["after"] for value in values]


def test_a_fit_lists_what_can_be_fitted_and_refuses_the_rest(files, capsys):
    status, out, _ = said(capsys, "fit", "shelf.board.json", "--values")
    assert status == 0
    assert "vias/through via/stub_m\n" in out
    data = ("loss.csv", "--what", "transmission", "--lane", "D0", "--elements", "1-2")
    for words, says in (((), "nothing to fit"), (("--free", "a=5"), "80..120"), (("--free", "x/y"), "no section")):
        status, _, err = said(capsys, "fit", "shelf.board.json", *data, *words)
        assert status == 2
        assert says in err
    status, _, err = said(capsys, "fit", "shelf.board.json", "--free", "lines/card trace/impedance_ohm")
    assert "no measured response" in err


def test_fixtures_of_touchstone_data_are_removed_by_their_own_network(files, capsys):
    """The edge connector (element 2) removed from elements 1 to 2 leaves element 1."""
    (files / "fixture.s2p").write_text(touchstone(network(BOARD, between=(2, 2))))
    measured = read_touchstone(files / "fixture.s2p")
    fixture = network_of(measured, "test board", guessed_ports(measured))
    board = replace(BOARD, catalogue=replace(BOARD.catalogue, networks=(fixture,)))
    (files / "with.board.json").write_bytes(dump_board(board))
    words = ("--lane", "D0", "--elements", "1", "--what", "transmission", "--json")
    _, out, _ = said(capsys, "overlay", "with.board.json", "edge.s2p", *words)
    assert json.loads(out)[0]["difference"]["rms"] > 0.1
    _, out, _ = said(capsys, "overlay", "with.board.json", "edge.s2p", *words, "--right", "test board")
    assert json.loads(out)[0]["difference"]["rms"] < 1e-6
