"""`--explain FIGURE`: every command that answers with figures tells in its answer's place how one came about."""

import json

import pytest

from tests.reports.answers import two_boards
from workbench.cli import main
from workbench.resources import project

LINE = "midplane outer pair"


@pytest.fixture(scope="module")
def boards(tmp_path_factory):
    """A small board with a measurement, and the same with a longer run."""
    first, other = two_boards(tmp_path_factory.mktemp("boards"))
    return str(first), str(other)


CASES = {
    "study": ("study", "corners", "A", "--tolerance", "loss=±5%", "--workers", "1", "lanes[0].effect_guards[0]",
              "ΔM = Σ M_up,k / n_up − Σ M_low,k / n_low"),
    "remedy": ("remedy", "A", "--allow", "settings", "--workers", "1", "lanes[0].lane.margin_guards", "M = min("),
    "compare": ("compare", "A", "B", "--workers", "1", "lanes[0].gained_height_v", "Δh = h_after − h_before"),
    "waveform": ("waveform", "A", "--lane", "D0", "--bits", "20000", "errors.ratio", "ε = k / n"),
    "overlay": ("overlay", "A", "--measured", "scope", "figures[0].apart", "d = y_meas − y_model"),
    "sheet": ("sheet", "A", "power_w", "P = Σ P_k"),
    "section": ("section", project("correlator-shelf.board.json"), "--line", LINE, "effective_permittivity",
                "ε_eff = "),
}  # fmt: skip


def asked(name, boards):
    *words, figure, formula = CASES[name]
    named = {"A": boards[0], "B": boards[1]}
    return [*(named.get(word, str(word)) for word in words), "--explain", figure], figure, formula


@pytest.mark.parametrize("name", CASES)
def test_a_figure_of_the_answer_is_explained_in_its_place(name, boards, capsys) -> None:
    words, figure, formula = asked(name, boards)
    assert main(words) in (0, 1)
    printed = capsys.readouterr().out
    head, *lines = printed.splitlines()
    assert f": {figure} = " in head
    assert any(line.strip().startswith(formula) for line in lines)
    assert "Checked by tests/" in printed
    assert "--chain" not in printed


@pytest.mark.parametrize("name", ["section", "compare"])
def test_it_is_json_too_with_what_it_rests_on(name, boards, capsys) -> None:
    words, figure, _ = asked(name, boards)
    assert main([*words, "--json"]) in (0, 1)
    found = json.loads(capsys.readouterr().out)
    assert found[0]["path"] == figure
    assert found[0]["mathml"].startswith("<math")
    paths = {one["path"] for one in found}
    wanted = [one["where"].split(", ") for one in found[0]["inputs"] if one["origin"] == "figure"]
    assert {path for some in wanted for path in some} <= paths


def test_a_figure_that_is_not_there_is_one_sentence(boards, capsys) -> None:
    assert main(["sheet", boards[0], "--explain", "powr_w"]) == 2
    assert "no figure 'powr_w'" in capsys.readouterr().err
