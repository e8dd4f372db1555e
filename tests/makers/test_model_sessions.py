"""Makers' code in its own process: what it answers, and every way in which it can fail, a sentence each."""

import ast
import re
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from tests.campaigns.fuzzing import sentence_fault
from tests.makers.compiled import QUICK, library_of
from workbench.errors import ModelRunError
from workbench.makers import child
from workbench.makers.session import CHILD_WORD, Library, Limits, Session
from workbench.packaging import build as packaging

DT, BIT, ROWS = 6.25e-12, 200e-12, 512
HOW = {"sample_interval_s": DT, "bit_time_s": BIT, "text": "(tests)"}


def responses(columns: int = 1) -> np.ndarray:
    return np.random.default_rng(7).normal(size=(columns, ROWS)) / DT


def whole_run(library: Library, waves: int, limits: Limits) -> None:
    with Session("of tests", library, wave=bool(waves), limits=limits) as session:
        session.init(responses(2), **HOW)
        for _ in range(waves):
            session.wave(np.zeros(640), most_clocks=56)


def failing(kind: str, waves: int = 0, **limits: float) -> ModelRunError:
    """What a kind of model comes to, by AMI_Init and so many blocks."""
    library = library_of(kind)
    with pytest.raises(ModelRunError) as refusal:
        whole_run(library, waves, QUICK._replace(**limits))
    assert not sentence_fault(refusal.value)
    assert "of tests" in str(refusal.value)
    return refusal.value


@pytest.mark.parametrize(
    ("kind", "waves", "happened", "says"),
    [
        ("CRASH", 0, "crashed", r"AMI_Init crashed \(SIGSEGV\), after it had said \"about to write to nothing\""),
        ("EXITS", 0, "crashed", r"exit status 3"),
        ("EATER", 0, "crashed", "AMI_Init"),
        ("REFUSE", 0, "refused", 'reports failure: "the corner is beyond what I know"'),
        ("NAN_", 0, "not finite", "AMI_Init"),
        ("OVERRUN", 0, "overran", "beyond the end of the impulse matrix"),
        ("UNDERRUN", 0, "overran", "before the start of the impulse matrix"),
        ("LONG_TEXT", 0, "text", "3,145,727 characters"),
        ("CRASH_LATE", 4, "crashed", r"AMI_GetWave crashed \(SIGSEGV\)"),
        ("CLOCKS_DOWN", 1, "clocks", "do not rise"),
        ("CLOCKS_OPEN", 1, "clocks", "without its end"),
        ("NO_WAVE", 1, "missing", "no function AMI_GetWave"),
    ],
)
def test_a_model_that_misbehaves_is_one_sentence(kind, waves, happened, says):
    found = failing(kind, waves)
    assert found.happened == happened
    assert re.search(says, str(found)), str(found)


@pytest.mark.campaign
def test_an_endless_loop_is_ended_at_its_limit():
    found = failing("HANG", init_s=0.3)
    assert found.happened == "hung"
    assert "AMI_Init did not answer within 0.3 s" in str(found)


def test_a_close_that_never_ends_is_ended_too():
    assert failing("HANG_CLOSE", 1, wave_s=0.3).happened == "hung"


def test_a_run_can_be_given_up():
    turns = iter(range(100))
    with (
        pytest.raises(ModelRunError, match="given up") as refusal,
        Session("of tests", library_of("HANG"), limits=QUICK, cancelled=lambda: next(turns) > 2) as session,
    ):
        session.init(responses(), **HOW)
    assert refusal.value.happened == "cancelled"


def test_what_a_model_prints_is_no_answer_and_fills_no_disk():
    with Session("of tests", library_of("PRINTS"), limits=QUICK) as session:
        given = responses()
        assert np.array_equal(session.init(given, **HOW).responses, given)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"not a library", "is not a library"),
        (b"", "is not a library"),
        (b"MZ" + bytes(58) + b"\x40\0\0\0" + b"PE\0\0\x64\x86", "is for Windows on x86-64"),
        (b"\x7fELF\x01\x01" + bytes(12) + b"\x03\x00" + bytes(64), r"Linux on x86 \(32 bit\)"),
        (b"\xcf\xfa\xed\xfe\x0c\0\0\x01" + bytes(64), "macOS on arm64"),
    ],
)
def test_a_library_for_another_platform_is_told_before_it_is_loaded(data, says):
    with pytest.raises(ModelRunError, match=says) as refusal, Session("of tests", Library("x.so", data)):
        pass
    assert refusal.value.happened == "platform"


def test_a_library_that_lacks_another_is_told_with_the_systems_own_words():
    whole = library_of("GAIN")
    lacking = whole._replace(data=whole.data.replace(b"libc.so.6", b"libq.so.6"))
    with (
        pytest.raises(ModelRunError, match=r"can't be loaded: .*libq\.so\.6") as refusal,
        Session("of tests", lacking, limits=QUICK),
    ):
        pass
    assert refusal.value.happened == "load"


def test_nothing_is_left_of_a_run(tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr(tempfile, "tempdir", None)
    session = Session("of tests", library_of("GAIN"), limits=QUICK)
    with session:
        assert len(list(tmp_path.iterdir())) == 1
        session.init(responses(), **HOW)
    assert list(tmp_path.iterdir()) == []
    assert session._process.returncode is not None


def test_the_child_imports_nothing_of_the_project():
    tree = ast.parse(Path(child.__file__).read_text())
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.partition(".")[0] for name in names} <= set(sys.stdlib_module_names)


def test_a_packaged_program_is_started_as_the_child_it_can_be():
    # A packaged program is no interpreter: what starts it as the child is the word that its start looks for.
    assert f'["{CHILD_WORD}"]' in packaging.START
    compile(packaging.START, "start.py", "exec")
