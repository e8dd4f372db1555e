"""One record for each study: what command line, window and reports read, and that a new one is a class alone."""

import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.studies.boards import section, with_lanes
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.cli.arguments import parser
from workbench.errors import StudyError
from workbench.studies import forms, registry
from workbench.studies.forms import StudyField, StudyForm, length_m
from workbench.studies.presentation import Presentation
from workbench.studies.registry import STUDIES, study_of
from workbench.studies.study import Study


@pytest.mark.parametrize("study", STUDIES, ids=lambda one: one.word)
def test_options_of_the_command_line_and_fields_of_the_window_are_the_record_s_own(study):
    required = [word for field in study.fields if field.required for word in (field.option, "U1")]
    asked = parser("study").parse_args(["study", study.word, "shelf.board.json", *required])
    assert all(hasattr(asked, field.key) for field in study.fields)
    keys, options = {field.key for field in study.fields}, {field.option for field in study.fields}
    assert len(keys) == len(options) == len(study.fields)
    assert set(study.values("U1", study.typed.first if study.typed else "")) <= keys
    assert study_of(study.word) is study


class _Made(NamedTuple):
    stopped: str = ""


class _Counted(NamedTuple):
    longest_m: float
    lanes: int
    made: _Made = _Made()


class _CountStudy(Study):
    word, title, purpose, about = "count", "Count", "how many lanes there are", "lane"
    fields = (StudyField("longest_m", "--longest", "how long they may be", "D", length_m, 1.0),)

    def values(self, subject, typed=""):
        return {}

    def answer(self, basis, values, *, limit=1, effort=None):
        return _Counted(values["longest_m"], len(basis.board.lanes))

    def present(self, answer):
        return Presentation(f"{answer.lanes} lanes", None, (), ())

    def text(self, answer, guard):
        return f"{answer.lanes} lanes of at most {answer.longest_m:g} m\n"

    def rows(self, answer):
        return iter([("lanes",), (answer.lanes,)])

    def passes(self, answer):
        return True


def test_a_new_study_is_on_the_command_line_as_soon_as_it_is_listed(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(registry, "STUDIES", (*STUDIES, _CountStudy()))
    form = StudyForm(_CountStudy.word, _CountStudy.purpose, _CountStudy.fields)
    monkeypatch.setattr(forms, "FORMS", (*forms.FORMS, form))
    path = tmp_path / "shelf.board.json"
    save_board(with_lanes(section(), "D0", "D4"), path)
    assert main(["study", "count", str(path), "--longest", "250 mm"]) == 0
    assert capsys.readouterr().out == "2 lanes of at most 0.25 m\n"
    assert main(["study", "count", str(path), "--csv"]) == 0
    assert capsys.readouterr().out == "lanes\n2\n"
    assert main(["study", "count", str(path), "--longest", "long"]) == 2
    assert capsys.readouterr().err.startswith("link-margin: --longest: ")
    assert main(["study", "count", str(path), "--board-out", str(tmp_path / "out.board.json")]) == 2
    assert "changes nothing on the board" in capsys.readouterr().err


def test_forms_stand_in_the_order_of_the_studies():
    assert [(one.word, one.purpose, one.fields) for one in STUDIES] == list(forms.FORMS) == list(forms.forms())


def test_what_is_no_study_is_refused_with_those_that_are():
    with pytest.raises(StudyError, match='no study "stydy"; choose "settings", "position", "reach"'):
        study_of("stydy")


ADDED = """
import sys
from workbench.studies import kinds
kinds.__path__.append(sys.argv[1])
from workbench.cli.arguments import parser
from workbench.studies.registry import STUDIES
asked = parser("study").parse_args(["study", "lengths", "shelf.board.json", "--most", "3"])
print(asked.study, asked.most, [one.word for one in STUDIES].index("lengths"), len(STUDIES))
"""
FILE = """
from workbench.studies.forms import StudyField, whole_number
from workbench.studies.study import Study

class LengthsStudy(Study):
    word, title, purpose, about, place = "lengths", "Lengths", "how long lanes are", "lane", 15
    fields = (StudyField("most", "--most", "of how many", "N", whole_number, 1),)
    values = answer = present = text = rows = passes = lambda self, *_: None
"""


def test_a_file_in_its_folder_is_all_that_a_new_study_takes(tmp_path):
    (tmp_path / "lengths.py").write_text(FILE)
    call = [sys.executable, "-c", ADDED, str(tmp_path)]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(call, env=environment, capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["lengths", "3", "1", str(len(STUDIES) + 1)], done.stderr
