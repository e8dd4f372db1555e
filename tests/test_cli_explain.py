"""`link-margin explain` as it is typed."""

import json

import pytest

from workbench.cli import main
from workbench.resources import project

SHELF = str(project("correlator-shelf.board.json"))


def test_a_height_is_explained_with_formula_inputs_range_and_checks(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", SHELF, "--lane", "RX2", "height_margin"]) == 0
    told = capsys.readouterr().out
    for words in ("M_h = h − h_min", "Inputs", "Holds for", "Checked by tests/", "Off by", "Rests on: eye.height_v"):
        assert words in told


def test_json_has_the_whole_chain_and_the_formulas_as_mathml(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", SHELF, "--lane", "RX2", "loss", "--chain", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    paths = [one["path"] for one in found]
    assert paths[:2] == ["loss_db", "spans[0].loss_db"]
    assert "path[0].loss_db" in paths
    assert found[0]["mathml"].startswith("<math")
    gamma = next(one for one in found[2]["inputs"] if one["symbol"] == "γ")
    assert gamma["value"]["imag"] > 0.0


@pytest.mark.campaign
def test_an_unknown_figure_is_refused_with_the_near_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", SHELF, "--lane", "RX2", "hight"]) == 2
    assert "height" in capsys.readouterr().err
