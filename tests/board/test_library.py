"""Built-in profiles and starter catalogues.

The table below was typed once more from the collected reference values (not made from the data file). Tags: s = seen in
a public transcription or quotation of the standard, m = from memory, d = derived from the numbers beside it. A test
freezes values tagged s or d-from-s; of the others only the status is held.
"""

import math
from typing import NamedTuple

import msgspec
import numpy as np
import pytest

from workbench.board.library import builtin_profiles, profile_of, starter_catalogues
from workbench.board.model import Board
from workbench.board.profile import Profile, Sourced
from workbench.errors import WorkbenchError
from workbench.facts import facts_of
from workbench.parts.receiver import Ctle
from workbench.parts.record import Record

IDS = (
    "pcie-1", "pcie-2", "pcie-3", "pcie-4", "sata-1", "sata-2", "sata-3", "sas-1", "sas-2", "sas-3", "xaui",
    "dp-rbr", "dp-hbr", "dp-hbr2", "dp-hbr3", "hdmi-1.4", "hdmi-2.0", "usb-5g", "usb-10g", "10gbase-kr",
)  # fmt: skip


class Row(NamedTuple):
    """UI in ps, Nyquist in GHz, then (value, tag): swings and height in mV, width in UI, loss in dB."""

    ui_ps: float
    nyquist_ghz: float
    swing_min: tuple[float, str] | None
    swing_max: tuple[float, str] | None
    height: tuple[float, str] | None
    width: tuple[float, str] | None
    loss: tuple[float, str] | None


TABLE = {
    "pcie-1": Row(400, 1.25, (800, "s"), (1200, "s"), (175, "s"), (0.40, "s"), (5.2, "s")),
    "pcie-2": Row(200, 2.5, (800, "s"), (1200, "s"), (120, "s"), (0.32, "s"), (11, "s")),
    "pcie-3": Row(125, 4, (800, "s"), (1000, "s"), (25, "s"), (0.30, "s"), (22, "s")),
    "pcie-4": Row(62.5, 8, (800, "s"), (1000, "s"), (15, "s"), (0.30, "s"), (28, "s")),
    "sata-1": Row(666.667, 0.75, (400, "s"), (600, "s"), (325, "s"), None, None),
    "sata-2": Row(333.333, 1.5, (400, "s"), (700, "s"), (275, "m"), None, None),
    "sata-3": Row(166.667, 3, (240, "m"), (900, "m"), (240, "m"), None, None),
    "sas-1": Row(333.333, 1.5, None, None, (275, "s"), (1 - 0.55, "d"), None),
    "sas-2": Row(166.667, 3, (850, "m"), (1200, "m"), None, None, None),
    "sas-3": Row(83.333, 6, (850, "m"), (1200, "m"), None, None, None),
    "xaui": Row(320, 1.5625, (800, "m"), (1600, "s"), (200, "m"), (1 - 0.55, "d"), None),
    "dp-rbr": Row(617.284, 0.81, (400, "m"), (1200, "m"), (46, "s"), (0.625 - 0.375, "s"), None),
    "dp-hbr": Row(370.370, 1.35, (400, "m"), (1200, "m"), (150, "s"), (0.755 - 0.246, "s"), None),
    "dp-hbr2": Row(185.185, 2.7, (400, "m"), (1200, "m"), (90, "m"), (0.38, "m"), None),
    "dp-hbr3": Row(123.457, 4.05, (400, "m"), (1200, "m"), None, None, None),
    "hdmi-1.4": Row(294.118, 1.7, (800, "m"), (1200, "m"), (150, "m"), None, None),
    "hdmi-2.0": Row(166.667, 3, (800, "m"), (1200, "m"), None, None, None),
    "usb-5g": Row(200, 2.5, (800, "s"), (1200, "s"), (100, "s"), (1 - 0.66, "d"), (20, "s")),
    "usb-10g": Row(100, 5, (800, "m"), (1200, "m"), (70, "m"), (1 - 0.671, "m"), (23, "s")),
    "10gbase-kr": Row(96.970, 5.15625, None, (1200, "m"), None, None, (25, "s")),
}


def test_every_interface_of_the_list_has_a_profile() -> None:
    assert tuple(builtin_profiles()) == IDS
    assert set(TABLE) == set(IDS)


@pytest.mark.parametrize("profile_id", IDS)
def test_unit_interval_and_nyquist_follow_from_the_rate(profile_id: str) -> None:
    profile, row = builtin_profiles()[profile_id], TABLE[profile_id]
    assert profile.ui_s * 1e12 == pytest.approx(row.ui_ps, abs=6e-4)
    assert profile.nyquist_hz == row.nyquist_ghz * 1e9


@pytest.mark.parametrize("profile_id", IDS)
def test_limits_swings_and_losses_are_those_of_the_table(profile_id: str) -> None:
    profile, row = builtin_profiles()[profile_id], TABLE[profile_id]
    agree(profile.swing_min_v, row.swing_min, 1e-3)
    agree(profile.swing_max_v, row.swing_max, 1e-3)
    agree(profile.limits.height_v, row.height, 1e-3)
    agree(profile.limits.width_ui, row.width, 1.0)
    agree(profile.loss_budget_db, row.loss, 1.0)


def agree(ours: Sourced | None, theirs: tuple[float, str] | None, unit: float) -> None:
    assert (ours is None) == (theirs is None)
    if ours is None or theirs is None:
        return
    value, tag = theirs
    assert ours.status == ("from memory" if tag == "m" else "published")
    assert ("derived" in ours.source) or tag != "d"
    if tag != "m":
        assert ours.value == pytest.approx(value * unit, rel=1e-9)


@pytest.mark.parametrize("profile_id", IDS)
def test_every_number_names_its_source(profile_id: str) -> None:
    profile = builtin_profiles()[profile_id]
    numbers = list(sourced(profile))
    assert len(numbers) >= 2
    for number in numbers:
        assert math.isfinite(number.value)
        assert len(number.source) > 10
        assert ("recalled" in number.source) == (number.status == "from memory")
    if profile.reference is not None:
        assert ("recalled" in profile.reference.source) == (profile.reference.status == "from memory")
    assert profile.revision


def sourced(profile: Profile) -> "list[Sourced]":
    found = [getattr(profile, fact.name) for fact in facts_of(Profile)]
    found += [*profile.deemphasis_db, profile.limits.height_v, profile.limits.width_ui]
    return [number for number in found if isinstance(number, Sourced)]


def test_a_limit_recalled_with_low_confidence_says_so() -> None:
    limits = builtin_profiles()["dp-hbr2"].limits
    assert limits.height_v is not None
    assert limits.width_ui is not None
    assert "low confidence" in limits.height_v.source
    assert "low confidence" in limits.width_ui.source


def test_limits_behind_equalization_are_those_of_8_gt_per_s_and_up_and_of_reference_receivers() -> None:
    # PCI Express from 8 GT/s, USB (at TP1 behind channel and equalizer), DisplayPort TP3_EQ, SAS from 6 Gb/s.
    equalized = {name for name, profile in builtin_profiles().items() if profile.limits.at == "equalized"}
    assert equalized == {
        "pcie-3", "pcie-4", "sas-2", "sas-3", "dp-hbr2", "dp-hbr3", "hdmi-2.0", "usb-5g", "usb-10g", "10gbase-kr",
    }  # fmt: skip


def test_interfaces_that_train_their_transmitter_ask_for_a_transparent_path() -> None:
    trained = {name for name, profile in builtin_profiles().items() if profile.trains_transparently}
    assert trained == {"pcie-3", "pcie-4", "sas-3", "10gbase-kr"}


@pytest.mark.parametrize(
    ("profile_id", "at_hz", "gains_db"),
    [
        # PCI Express Base 6.2 figure 8-34 (public transcription), evaluated outside this project.
        ("pcie-3", 4e9, (-1.6737, -1.7268, -1.7694, -1.8036, -1.8310, -1.8528, -1.8702)),
        ("pcie-4", 8e9, (-1.1647, -1.1786, -1.1896, -1.1984, -1.2053, -1.2109, -1.2153)),
        # USB forms from memory; the numbers confirm that the record computes the recalled formula, no more.
        ("usb-5g", 2.5e9, (3.2760,)),
        ("usb-10g", 5e9, (-0.2079, None, None, -0.3027, None, None, -0.3511)),
    ],
)
def test_reference_equalizers_have_their_published_gain_at_nyquist(
    profile_id: str, at_hz: float, gains_db: tuple[float | None, ...]
) -> None:
    profile = builtin_profiles()[profile_id]
    assert profile.reference is not None
    equalizer = profile.reference.equalizer
    assert isinstance(equalizer, Ctle)
    assert profile.nyquist_hz == at_hz
    assert len(equalizer.dc_gain_db) == len(gains_db)
    for rest_db, expected_db in zip(equalizer.dc_gain_db, gains_db, strict=True):
        found_db = 20.0 * np.log10(np.abs(equalizer.transfer(rest_db, np.array([at_hz]))[0]))
        if expected_db is not None:
            assert found_db == pytest.approx(expected_db, abs=1e-4)


def test_reference_decision_feedback_is_limited_as_published() -> None:
    # PCI Express Base 6.2 (public transcription): one tap of 30 mV at 8 GT/s, two of 30 and 20 mV at 16 GT/s.
    taps = {name: builtin_profiles()[name].reference for name in ("pcie-3", "pcie-4")}
    assert {name: found.dfe.limit_v for name, found in taps.items() if found} == {
        "pcie-3": (0.030,),
        "pcie-4": (0.030, 0.020),
    }


def test_a_profile_of_the_board_replaces_the_built_in_one_there() -> None:
    own = msgspec.structs.replace(builtin_profiles()["pcie-2"], title="stricter")
    board = Board(profile="pcie-2", profiles=(own,))
    assert profile_of(board, "pcie-2").title == "stricter"
    assert profile_of(board, "pcie-1") is builtin_profiles()["pcie-1"]
    assert builtin_profiles()["pcie-2"].title != "stricter"


def test_an_unknown_profile_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        profile_of(Board(profile="pcie-2"), "no-such-profile")


def test_damaged_data_is_refused_with_a_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setattr("workbench.board.library.resource", tmp_path.joinpath)
    builtin_profiles.cache_clear()
    with pytest.raises(WorkbenchError, match=r"profiles\.json: .*install the program again"):
        builtin_profiles()


def starter_entries() -> list[tuple[str, str, Record]]:
    return [
        (starter.id, shelf, entry)
        for starter in starter_catalogues().values()
        for shelf in starter.catalogue.__struct_fields__
        for entry in getattr(starter.catalogue, shelf)
    ]


def test_starters_are_marked_as_invented() -> None:
    assert len(starter_catalogues()) >= 4
    assert all("invented" in starter.marked for starter in starter_catalogues().values())


def test_every_number_of_a_starter_entry_names_its_source() -> None:
    for starter_id, shelf, entry in starter_entries():
        for fact in facts_of(type(entry)):
            provenance = starter_catalogues()[starter_id].provenance(shelf, entry.name, fact.name)
            assert provenance.source
            assert provenance.status == "common practice" or "invented" not in provenance.source


def test_a_source_belongs_to_an_entry_and_field_that_exist() -> None:
    for starter in starter_catalogues().values():
        for shelf, entries in starter.sources.items():
            kinds = {entry.name: type(entry) for entry in getattr(starter.catalogue, shelf)}
            assert entries.keys() == kinds.keys()
            for name, fields in entries.items():
                assert set(fields) - {"*"} <= {fact.name for fact in facts_of(kinds[name])}


def test_starter_entries_are_sound_and_refer_to_entries_of_their_own_starter() -> None:
    for starter_id, _shelf, entry in starter_entries():
        assert entry.problems() == ()
        catalogue = starter_catalogues()[starter_id].catalogue
        for _field, shelves, name in entry.references():
            assert name in {other.name for shelf in shelves for other in getattr(catalogue, shelf)}


def test_conditioners_cover_every_protocol_family_in_both_kinds() -> None:
    conditioners = starter_catalogues()["conditioners"].catalogue.conditioners
    kinds = {(part.__struct_config__.tag, part.name.split(" ")[0]) for part in conditioners}
    assert kinds == {
        (kind, family)
        for kind in ("linear", "limiting")
        for family in ("PCIe", "SATA/SAS", "XAUI", "DisplayPort", "HDMI")
    }
