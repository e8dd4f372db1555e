"""The stand-alone build: refuses in one sentence what it can't begin; the build itself is tried by hand."""

import importlib.util

import pytest

from workbench.packaging import build as packaging


def test_without_a_folder_it_says_how_it_is_used(capsys: pytest.CaptureFixture[str]) -> None:
    assert packaging.main([]) == 2
    assert capsys.readouterr().err == packaging.USAGE


def test_without_its_tool_it_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert packaging.main([str(tmp_path)]) == 2
    assert "[standalone]" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
