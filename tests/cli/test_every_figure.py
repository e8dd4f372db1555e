"""Every number that any command prints as JSON is a figure that its `--explain` explains, with the number printed.

Nothing here lists figures: commands are taken from the parsers, numbers from what is printed, entries by their paths.
"""

import argparse
import json
import math
import re

import pytest

from tests.makers.compiled import AMI, library_of
from tests.measured.networks import legs, measured
from tests.reports.answers import WORDS, study_answered, two_boards
from tests.thinning import some
from workbench.board.reading import load_board
from workbench.cli import COMMANDS, main
from workbench.cli.arguments import parser
from workbench.engine.figures.answered import explain_answer
from workbench.engine.figures.explaining import case_of, explain
from workbench.measured.touchstone.export import exported_network, touchstone_text
from workbench.reports import answers
from workbench.resources import project, resource
from workbench.studies.registry import study_of

LIST = "Lane,Card (mm),Cable (mm)\nD0_P,301,\nD0_N,300.5,\nX1_P,3,4\n"
GAINS = "f (GHz),0 (dB),1 (dB)\n0.1,0.0,-0.2\n1,0.5,1.0\n2.5,3.1,6.0\n5,2.0,4.1\n"
CASES = {
    "assess": ("assess", "A"), "quality": ("quality", "jumper.s4p", "--rate", "5Gbps"),
    "import": ("import", "A", "jumper.s4p", "--repair", "passivity", "-o", "with.board.json"),
    "export": ("export", "A", "--lane", "D0", "--element", "1", "-o", "run.s2p", "--to", "1GHz"),
    "lanes": ("lanes", "A", "list.csv", "--template", "D0", "--run", "1=Card (mm)", "3=Cable (mm)", "--pair-ends", "_P",
              "_N"),
    "overlay": ("overlay", "A", "jumper.s4p", "--lane", "D0", "--elements", "1"),
    "overlay of an eye": ("overlay", "A", "--measured", "scope"),
    "fit": ("fit", "A", "jumper.s4p", "--lane", "D0", "--elements", "1", "--free", "lines/lossy/permittivity"),
    "compare": ("compare", "A", "B", "--workers", "1"),
    "waveform": ("waveform", "A", "--lane", "D0", "--bits", "20000"), "gains": ("gains", "gains.csv"),
    "section": ("section", str(project("correlator-shelf.board.json")), "--line", "midplane outer pair"),
    "remedy": ("remedy", "A", "--workers", "1"), "model response": ("model", "response", "tests.ami"),
    "model compare": ("model", "compare", "tests.ami", "--board", "A", "--lane", "D0", "--at", "transmitter", "--bits",
                      "0"),
    **{f"study {word}": ("study", word, "A") for word in WORDS if word != "remedy"},
}  # fmt: skip
"""One command line for each command that prints an answer as JSON; A and B are boards."""
NEEDED = {
    "study settings": ("--device", "U1"), "study position": ("--device", "U1"), "study reach": ("--run", "lossy:1"),
    "study corners": ("--tolerance", "loss=±5%"), "study yield": ("--tolerance", "loss=±5%"),
}  # fmt: skip
STATED = {"profiles", "model show", "model list"}
"""These print what a file states, with its source where it has one; nothing of it is computed (tested below)."""
EXPLAINS = {"explain"}
"""It is the explanation."""
FORMAT = {"version"}
"""The number of the JSON's own format."""


def commands_with_json(words: argparse.ArgumentParser, name: str = "") -> dict[str, bool]:
    """Every command that has `--json`, and whether it has `--explain` too."""
    nested = [one for one in words._actions if isinstance(one, argparse._SubParsersAction)]
    if not nested:
        options = {option for one in words._actions for option in one.option_strings}
        return {name: "--explain" in options} if "--json" in options else {}
    found = {}
    for action in nested:
        for word, below in action.choices.items():
            found |= commands_with_json(below, f"{name} {word}".strip())
    return found


def all_commands() -> dict[str, bool]:
    """Every command, each loaded for itself as a user's call loads it."""
    found = {}
    for name in COMMANDS:
        found |= {word: there for word, there in commands_with_json(parser(name)).items() if word.split()[0] == name}
    return found


def test_every_command_with_json_is_walked_or_states_only_what_was_entered() -> None:
    offered = all_commands()
    walked = {name.split(" of ")[0] for name in CASES}
    assert set(offered) == walked | STATED | EXPLAINS | {"study remedy"}
    assert {name for name in walked if not offered[name]} == {"assess"}  # whose figures `explain` explains


def numbers_in(content, path=""):
    """Every number of a JSON document with its path."""
    if isinstance(content, dict):
        for key, value in content.items():
            if path or key not in FORMAT:
                yield from numbers_in(value, f"{path}.{key}" if path else key)
    elif isinstance(content, list):
        for number, value in enumerate(content):
            yield from numbers_in(value, f"{path}[{number}]")
    elif isinstance(content, int | float) and not isinstance(content, bool):
        yield path, content


def some_of(found):
    """Of the numbers of one list, the first and the last: they are one figure."""
    kinds = {}
    for path, value in found:
        kinds.setdefault(re.sub(r"\[\d+\]", "[]", path), []).append((path, value))
    return list(dict(one for several in kinds.values() for one in (several[0], several[-1])).items())


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Boards, a network, a lane list, a table of gains and a maker's model."""
    here = tmp_path_factory.mktemp("every")
    two_boards(here)
    (here / "jumper.s4p").write_text(touchstone_text(exported_network(measured(legs([(1, 3), (2, 4)])))))
    (here / "list.csv").write_text(LIST)
    (here / "gains.csv").write_text(GAINS)
    (here / "tests.ami").write_text(AMI.format(returns=True, wave=True, most=0, reserved=""))
    (here / "tests.so").write_bytes(library_of("TAPS").data)
    return here


def known_answer(word, kind):
    """What takes the place of a study's `answer`: what the study itself finds once on the tests' own board."""
    own = kind.answer

    def answer(*_, **__):
        with pytest.MonkeyPatch.context() as undone:
            undone.setattr(kind, "answer", own)
            return study_answered(word).answer

    return answer


@pytest.fixture
def inside(folder, monkeypatch):
    """In that folder, with a home of its own, and studies that answer with what was found once for all tests."""
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(folder / "home"))
    monkeypatch.chdir(folder)
    for word in WORDS:
        monkeypatch.setattr(type(study_of(word)), "answer", known_answer(word, type(study_of(word))))
    return folder


def printed(words, capsys) -> str:
    assert main(list(words)) in (0, 1), capsys.readouterr().err
    return capsys.readouterr().out


STUDIES = [name for name in CASES if name.startswith("study") or name == "remedy"]
OTHERS = [name for name in CASES if name not in ("assess", *STUDIES)]


@pytest.mark.parametrize("name", [*OTHERS, *some(STUDIES, 2)])
def test_every_number_of_a_commands_json_is_explained_with_that_number(name, inside, capsys, monkeypatch) -> None:
    boards = {"A": "a.board.json", "B": "b.board.json"}
    words = [boards.get(word, word) for word in (*CASES[name], *NEEDED.get(name, ()))]
    if name.startswith("model"):
        printed(("model", "trust", "tests.ami", "--yes"), capsys)
    content = json.loads(printed([*words, "--json"], capsys))
    asked = []
    monkeypatch.setattr(answers, "answer_explained", lambda whole, path, as_json: asked.append(whole) or "")
    printed([*words, "--explain", "any"], capsys)
    documents = content if isinstance(content, list) else [content]
    assert len(documents) == len(asked)
    seen = 0
    for document, whole in zip(documents, asked, strict=True):
        for path, value in some_of(numbers_in(document)):
            found, _ = explain_answer(answers.ANSWER_ENTRIES, whole, answers.path_in_answer(path))
            assert found.inputs, path
            if not path.endswith("took_s"):  # the clock's, another one each time
                assert found.value == pytest.approx(value, rel=1e-12, abs=1e-15, nan_ok=True), path
            seen += 1
    assert seen >= 3


def test_every_number_of_an_assessment_is_explained_with_that_number(inside, capsys) -> None:
    del inside
    content = json.loads(printed(("assess", "a.board.json", "--json"), capsys))
    (lane,) = content["lanes"]
    case = case_of(load_board("a.board.json").board, lane["lane"])
    paths = dict(some_of(numbers_in(lane)))
    for path, value in paths.items():
        bare = path.removesuffix("]").rsplit("[", 1)
        found = explain(case, path if not re.search(r"_(v|db)\[\d+\]$", path) else bare[0])
        shown = found.value[int(bare[1])] if isinstance(found.value, tuple) else found.value
        assert shown == pytest.approx(value, rel=1e-12), path
    left = {key: value for key, value in content.items() if key != "lanes"}
    assert list(numbers_in(left)) == []
    assert len(paths) >= 20


@pytest.mark.parametrize("name", sorted(STATED - {"model list"}))
def test_what_is_only_stated_stands_in_the_file_as_it_is_printed(name, inside, capsys) -> None:
    words = {"profiles": ("profiles", "--json"), "model show": ("model", "show", "tests.ami", "--json")}[name]
    text = resource("profiles.json").read_text(encoding="utf-8") if name == "profiles" else AMI
    stated = {float(one) for one in re.findall(r"-?\d+\.?\d*(?:[eE][-+]?\d+)?", text)} | {0.0, 1.0}
    found = list(numbers_in(json.loads(printed(words, capsys))))
    assert found
    for path, value in found:
        assert any(math.isclose(value, one, rel_tol=1e-12) for one in stated), (path, value)
