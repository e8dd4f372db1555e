"""A home of the user's own, so that no test trusts anything on the machine that it runs on."""

import pytest


@pytest.fixture
def home(tmp_path, monkeypatch):
    """Where this test's trust is kept."""
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    return tmp_path / "home"
