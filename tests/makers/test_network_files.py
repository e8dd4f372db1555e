"""`link-margin import` of network files, one a setting, and of files onto an end: read, told, refused in a sentence."""

import json

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import LINEAR, assessed, lane_board, trace
from tests.makers.test_network_sets import F_HZ, REFLECTING, on_board, scattering
from tests.thinning import some
from workbench.board.model import Stage
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.errors import WorkbenchError
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.edges import read_edge
from workbench.measured.tables.reading import read_table
from workbench.measured.touchstone.export import Exported, single_ended, touchstone_text
from workbench.measured.touchstone.network_sets import settings_in
from workbench.parts.conditioners.controls import Settings
from workbench.parts.edge import rise_of
from workbench.parts.termination import rest_ohm

EVERY = slice(3, None, 4)  # 40 MHz apart
NAMES = [f"lab_EQ{eq}_DC{dc}.s4p" for eq in (0, 1, 10) for dc in (-2, 0)]


def written(path, s, f_hz=F_HZ[EVERY], *, legs=False):
    exported = Exported(f_hz, s, 100.0, (), ("left", "right"))
    path.write_text(touchstone_text(single_ended(exported) if legs else exported), encoding="utf-8")


@pytest.fixture
def folder(tmp_path):
    """A board, and a folder of four-port files of two controls."""
    save_board(lane_board((trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))),
               tmp_path / "b.json")  # fmt: skip
    (tmp_path / "set").mkdir()
    for eq in (0, 1, 10):
        for dc in (-2, 0):
            s = scattering(1.2 * eq, REFLECTING)[:, :, EVERY].copy()
            s[1, 0] *= 10.0 ** (dc / 20.0)
            written(tmp_path / "set" / f"lab_EQ{eq}_DC{dc}.s4p", s, legs=True)
    return tmp_path


@pytest.mark.campaign
def test_a_folder_of_files_becomes_a_conditioner_with_the_eye_of_its_part(folder, capsys):
    board = folder / "b.json"
    assert main(["import", str(board), str(folder / "set"), "--name", "lab", "--channels", "2"]) == 0
    told = capsys.readouterr().out
    assert "settings by the pattern lab_EQ{EQ}_DC{DC}.s4p" in told
    assert "EQ=10, DC=0   lab_EQ10_DC0.s4p: 1,000 points from 40 MHz to 40 GHz" in told
    assert "every file: pairs: 1,2:3,4" in told
    part = load_board(board).board.catalogue.conditioners[-1]
    assert [(one.name, one.names) for one in part.controls()] == [("EQ", ("0", "1", "10")), ("DC", ("-2", "0"))]
    known = assessed(on_board(replace(REFLECTING, random_jitter_s=0.0, deterministic_jitter_s=0.0, input_noise_v=0.0),
                              Settings(equalization="3", swing="unity", emphasis="off")))  # fmt: skip
    found = assessed(on_board(replace(part, compression_v=1.6), Settings(EQ="10", DC="0")))
    assert found.eye.height_v == pytest.approx(known.eye.height_v, abs=0.004)


@pytest.mark.campaign
def test_json_says_every_network_its_settings_and_its_quality(folder, capsys):
    assert main(["import", str(folder / "b.json"), str(folder / "set"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["pattern"] == "lab_EQ{EQ}_DC{DC}.s4p"
    assert said["networks"][0]["settings"] == {"EQ": "0", "DC": "-2"}
    about = {one["about"] for one in said["networks"][0]["quality"]}
    assert {"band", "causality", "length"} <= about
    assert not {"passivity", "reciprocity"} & about


def refused(folder, capsys, *words) -> str:
    before = (folder / "b.json").read_bytes()
    assert main(["import", str(folder / "b.json"), *words]) == 2
    assert (folder / "b.json").read_bytes() == before
    [line] = capsys.readouterr().err.strip().splitlines()
    return line


@pytest.mark.campaign
def test_what_is_no_set_is_refused_in_one_sentence(folder, capsys):
    files = sorted(map(str, (folder / "set").iterdir()))
    assert "EQ=1, DC=0 has no file; add it" in refused(folder, capsys, *[one for one in files if "EQ1_DC0" not in one])
    assert "no file fits the pattern" in refused(folder, capsys, *files, "--settings", "link{n}.s4p")
    assert "braces that don't match" in refused(folder, capsys, *files, "--settings", "lab_EQ{EQ.s4p")
    (folder / "none").mkdir()
    assert "there is no network file" in refused(folder, capsys, str(folder / "none"))
    conjugated = scattering(4.0)[:, :, EVERY].conj()
    written(folder / "set" / "lab_EQ1_DC0.s4p", conjugated, legs=True)
    assert "its phase rises with frequency" in refused(folder, capsys, str(folder / "set"))


def test_two_files_for_one_setting_and_a_missing_one_are_told_from_names_alone():
    found = settings_in([*NAMES, "lab_eq0_dc0.s4p"], "lab_EQ{EQ}_DC{DC}.s4p")
    assert found.fault.startswith('EQ=0, DC=0 has two files, "lab_EQ0_DC0.s4p" and "lab_eq0_dc0.s4p"')
    assert settings_in(NAMES[:-1]).fault.startswith("EQ=10, DC=0 has no file")
    assert settings_in([*NAMES, "notes.s4p"], "lab_EQ{EQ}_DC{DC}.s4p").left_out == ("notes.s4p",)
    assert settings_in(["a1.s2p", "a1.s4p"]).fault == "the files end in .s2p and .s4p; take those of one kind"


@pytest.mark.campaign
def test_other_grids_and_turned_ports_are_told(folder, capsys):
    short = F_HZ[EVERY][:600]
    written(folder / "set" / "lab_EQ1_DC0.s4p", scattering(4.0)[:, :, EVERY][:, :, :600], short, legs=True)
    turned = scattering(0.0)[::-1, ::-1, EVERY]
    written(folder / "set" / "lab_EQ0_DC0.s4p", np.ascontiguousarray(turned), legs=True)
    assert main(["import", str(folder / "b.json"), str(folder / "set")]) == 0
    told = capsys.readouterr().out
    assert "other frequencies in lab_EQ1_DC0.s4p (600 points from 40 MHz to 24 GHz)" in told
    assert "lab_EQ0_DC0.s4p: it passes more from right to left, so its right end is the input" in told
    part = load_board(folder / "b.json").board.catalogue.conditioners[-1]
    gain = part.small_signal_gain(Settings(EQ="0", DC="0"), np.array([1e9]))
    assert abs(gain[0]) == pytest.approx(abs(LINEAR.equalizer(0.0, np.array([1e9]))[0]), rel=1e-6)


@pytest.mark.campaign
@pytest.mark.parametrize("place", some(["transmitter", "receiver"], 1))
def test_a_reflection_becomes_the_termination_of_an_end(folder, place, capsys):
    s = scattering(0.0, REFLECTING)[:1, :1, EVERY]
    path = folder / "pad.s1p"
    path.write_text(touchstone_text(Exported(F_HZ[EVERY], s, 100.0, (), ("pad",))), encoding="utf-8")
    name = {"transmitter": "host", "receiver": "card"}[place]
    assert main(["import", str(folder / "b.json"), str(path), f"--{place}", name]) == 0
    assert f'{place} "{name}" has the termination of pad.s1p, 80 ohm at 0 Hz' in capsys.readouterr().out
    [end] = getattr(load_board(folder / "b.json").board.catalogue, f"{place}s")
    assert rest_ohm(end.termination) == pytest.approx(80.0, rel=1e-3)
    assert end.resistance_ohm == pytest.approx(80.0, rel=1e-3)
    assert "the catalogue has no" in refused(folder, capsys, str(path), f"--{place}", "nobody")


@pytest.mark.campaign
def test_a_two_port_is_the_package_of_an_end_and_the_port_of_a_redriver(folder, capsys):
    written(folder / "box.s2p", scattering(0.0, REFLECTING)[:, :, EVERY])
    assert main(["import", str(folder / "b.json"), str(folder / "box.s2p"), "--redriver-output", "linear"]) == 0
    assert "120 ohm at 0 Hz" in capsys.readouterr().out
    assert main(["export", str(folder / "b.json"), "--lane", "D0", "--element", "1", "-o", str(folder / "p.s2p")]) == 0
    assert main(["import", str(folder / "b.json"), str(folder / "p.s2p"), "--transmitter", "host"]) == 0
    catalogue = load_board(folder / "b.json").board.catalogue
    assert catalogue.transmitters[0].package_network == "p"
    assert catalogue.networks[0].name == "p"
    assert catalogue.conditioners[0].output_termination.points == 1000


def edge_of(text: str):
    return read_edge(read_table(text_of_bytes(text.encode(), "edge.csv"), all_numeric=True))


def test_a_measured_step_keeps_its_shape_and_the_rise_time_of_its_closed_form(folder, capsys):
    t = np.linspace(0.0, 1000.0, 801)
    level = -0.4 + 0.8 * np.where(t < 200.0, 0.0, 1.0 - np.exp(-(t - 200.0) / 20.0))
    text = "time (ps),level (V)\n" + "".join(f"{a:.6g},{b:.9g}\n" for a, b in zip(t, level, strict=True))
    edge = edge_of(text)
    assert rise_of(edge) == pytest.approx(20e-12 * np.log(4.0), rel=5e-3)
    assert len(edge) < 150
    at = np.array([10e-12, 30e-12, 100e-12])
    found = np.interp(at, [one.time_s for one in edge], [one.level for one in edge])
    assert found == pytest.approx(1.0 - np.exp(-at / 20e-12), abs=0.01)
    (folder / "edge.csv").write_text(text, encoding="utf-8")
    assert main(["import", str(folder / "b.json"), str(folder / "edge.csv"), "--transmitter", "host"]) == 0
    assert "27.7 ps from 20 to 80 %" in capsys.readouterr().out
    assert "only a transmitter has an edge" in refused(folder, capsys, str(folder / "edge.csv"), "--receiver", "card")


def test_a_printed_table_of_a_ramp_is_that_ramp():
    edge = edge_of("time (ps),level\n0,0\n40,1\n")
    assert [(one.time_s, one.level) for one in edge] == [(0.0, 0.0), (pytest.approx(4e-11), 1.0)]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time (ps),level (V)\n0,1\n10,1\n20,1\n", "ends where it begins"),
        ("time (ps),level (V)\n0,0\n20,1\n10,1\n", "less than that of the line before"),
        ("time (s),level (V)\n0,0\n1,1\n", "the step lasts 1 s"),
    ],
)
def test_what_is_no_step_is_refused(text, says):
    with pytest.raises(WorkbenchError, match=says):
        edge_of(text)
