"""`link-margin model`: what is shown, trusted only on purpose, and asked of the code."""

import json

import numpy as np
import pytest

from tests.lanes import lane_board, trace
from tests.makers.compiled import AMI, library_of
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.makers.platforms import here


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A model's two files and an .ibs file, and a home of the user's own."""
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    jitter = '(Tx_Rj (Usage Info) (Type UI) (Value 0.01) (Description "own"))'
    (tmp_path / "tests.ami").write_text(AMI.format(returns=True, wave=True, most=0, reserved=jitter))
    own = here()
    system = {"macOS": "Darwin"}.get(own.system, own.system)
    (tmp_path / "tests.ibs").write_text(
        "[IBIS Ver] 6.1\n[Component] link\n[Manufacturer] Invented\n[Model] tx\nModel_type Output\n"
        "[Algorithmic Model]\n"
        f"Executable {system}_any_{own.bits} tests.so tests.ami\n[End Algorithmic Model]\n[End]\n"
    )
    return tmp_path


def test_show_tells_parameters_figures_and_what_is_odd(folder, capsys):
    assert main(["model", "show", "tests.ami"]) == 0
    said = capsys.readouterr().out
    assert "taps/-1 = 0.0  (In, Tap, -1.0 to 1.0)" in said
    assert "Tx_Rj = 0.01 UI: random jitter, rms, 2 ps." in said
    assert main(["model", "show", "tests.ami", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["model"] == "tests"
    assert {known["name"] for known in content["parameters"]} >= {"taps/1", "mode", "Tx_Rj"}


def test_show_reads_an_ibs_file(folder, capsys):
    assert main(["model", "show", "tests.ibs"]) == 0
    said = capsys.readouterr().out
    assert "part link, Invented" in said
    assert "buffer tx: Output (transmitter)" in said
    assert main(["model", "show", "tests.ibs", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["buffers"][0]["libraries"][0]["ami"] == "tests.ami"


def test_nothing_is_trusted_without_a_word(folder, capsys):
    (folder / "tests.so").write_bytes(b"\x7fELF")
    assert main(["model", "trust", "tests.ami"]) == 2
    out, err = capsys.readouterr()
    assert "with your rights" in out
    assert "nothing was trusted" in err
    assert main(["model", "list"]) == 0
    assert capsys.readouterr().out == "no model is trusted\n"


def test_trust_then_try_then_forget(folder, capsys):
    (folder / "tests.so").write_bytes(library_of("TAPS").data)
    settings = ["--set", "taps/0=0.7", "taps/1=-0.2"]
    assert main(["model", "response", "tests.ami", *settings]) == 2
    assert "is not trusted on this computer" in capsys.readouterr().err
    assert main(["model", "trust", "tests.ibs", "--yes"]) == 0
    assert "maker    Invented" in capsys.readouterr().out
    assert main(["model", "response", "tests.ami", *settings, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    f_per_bit = np.array(found["frequency_hz"]) / 5e9
    expected = 20.0 * np.log10(np.abs(0.7 - 0.2 * np.exp(-2j * np.pi * f_per_bit)))
    assert found["gain_db"] == pytest.approx(expected.tolist(), abs=1e-9)
    assert main(["model", "list"]) == 0
    sha = capsys.readouterr().out.split()[0]
    assert main(["model", "forget", sha[:10]]) == 0
    assert main(["model", "forget", sha[:10]]) == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["trust", "tests.ami"], 'there is no "tests.so" beside "tests.ami"'),
        (["show", "none.ami"], "can't be read"),
        (["forget", "abc"], "no one trusted library"),
    ],
)
def test_what_can_not_be_done_is_one_sentence(folder, capsys, words, says):
    assert main(["model", *words]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


def test_settings_are_typed_as_the_file_has_them(folder, capsys):
    (folder / "tests.so").write_bytes(library_of("TAPS").data)
    assert main(["model", "trust", "tests.ami", "--yes"]) == 0
    capsys.readouterr()
    for word, says in (
        ("mode=7", "not one of its values"), ("gain", "write NAME=VALUE"), ("gain=high", "not a Float"),
        ("gian=1", '"gain"'),
    ):  # fmt: skip
        assert main(["model", "response", "tests.ami", "--set", word]) == 2
        assert says in capsys.readouterr().err


def test_a_model_is_put_on_a_part_and_assessed_once_it_is_trusted(folder, capsys):
    (folder / "tests.so").write_bytes(library_of("TAPS").data)
    save_board(lane_board((trace(0.3, "lossy"),)), folder / "board.json")
    words = ["import", "board.json", "tests.ami", "--transmitter", "host", "--set", "taps/1=-0.2"]
    assert main(words) == 0
    assert "not trusted yet" in capsys.readouterr().out
    assert main(["assess", "board.json", "--json"]) == 1
    [lane] = json.loads(capsys.readouterr().out)["lanes"]
    assert "model-not-run" in {finding["rule"] for finding in lane["findings"]}
    assert main(["model", "trust", "tests.ami", "--yes"]) == 0
    capsys.readouterr()
    main(["assess", "board.json", "--json"])
    [lane] = json.loads(capsys.readouterr().out)["lanes"]
    assert "model-not-run" not in {finding["rule"] for finding in lane["findings"]}
    assert lane["pulse"]["cursors_v"][2] < 0.0  # the tap after the main one


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ([], "where the model belongs"), (["--transmitter", "none"], 'no transmitter "none"'),
        (["--receiver", "card", "--set", "taps/9=1"], 'has no input "taps/9"'),
        (["--redriver-input", "linear"], "not a model conditioner"),
    ],
)  # fmt: skip
def test_an_import_that_can_not_be_is_refused_and_the_board_stays(folder, capsys, more, says):
    (folder / "tests.so").write_bytes(library_of("TAPS").data)
    save_board(lane_board((trace(0.3, "lossy"),)), folder / "board.json")
    before = (folder / "board.json").read_bytes()
    assert main(["import", "board.json", "tests.ami", *more]) == 2
    assert says in capsys.readouterr().err
    assert (folder / "board.json").read_bytes() == before


def test_a_redriver_is_made_of_its_two_models(folder, capsys):
    (folder / "tests.so").write_bytes(library_of("TAPS").data)
    save_board(lane_board((trace(0.3, "lossy"),)), folder / "board.json")
    for side in ("--redriver-input", "--redriver-output"):
        assert main(["import", "board.json", "tests.ami", side, "redriver"]) == 0
    board = load_board(folder / "board.json").board
    part = board.catalogue.conditioners[-1]
    assert (part.name, part.input_model.model, part.output_model.model) == ("redriver", "tests", "tests")
