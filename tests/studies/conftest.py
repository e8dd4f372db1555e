"""What every test of the studies has in common."""

import pytest

from workbench.studies.pool import jobs

_MEMO = jobs.CountingMemo()


@pytest.fixture
def forgetful() -> None:
    """Every study computes anew."""


@pytest.fixture(autouse=True)
def one_memo(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one study computed the next one knows, unless the test has `forgetful`; who checks it computes anew."""
    if "forgetful" not in request.fixturenames:
        monkeypatch.setattr(jobs, "CountingMemo", lambda: _MEMO)
