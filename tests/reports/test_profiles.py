import pytest

from workbench.board.library import builtin_profiles
from workbench.board.sourced import STATUS_WORDS
from workbench.layout import width_of
from workbench.reports.profiles import profile_text, profiles_text


def test_the_list_has_every_profile_and_marks_what_is_unverified() -> None:
    text = profiles_text(list(builtin_profiles().values()), columns=100)
    rows = {line.split()[0]: line for line in text.split("\n\n")[0].splitlines()[2:]}
    assert set(rows) == set(builtin_profiles())
    assert " 120 " in rows["pcie-2"]
    assert " 240u " in rows["sata-3"]
    assert " 1e-9 " in rows["dp-hbr"]
    assert max(map(width_of, text.splitlines())) <= 100


@pytest.mark.parametrize("profile_id", sorted(builtin_profiles()))
def test_one_profile_shows_every_number_with_status_and_source(profile_id: str) -> None:
    profile = builtin_profiles()[profile_id]
    text = " ".join(profile_text(profile, columns=100).split())
    for number in (
        profile.rate_bps, profile.ber, profile.impedance_ohm, profile.swing_min_v, profile.swing_max_v,
        profile.limits.height_v, profile.limits.width_ui, profile.loss_budget_db, *profile.deemphasis_db,
    ):  # fmt: skip
        if number is not None:
            assert f"{STATUS_WORDS[number.status]}: {' '.join(number.source.split())}" in text
    if profile.reference is not None:
        assert profile.reference.source in text
    assert profile.notes in text
