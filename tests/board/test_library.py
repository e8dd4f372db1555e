"""Built-in profiles and starter catalogues.

The table below was typed once more from the collected reference values (not made from the data file). Tags: s = seen in
a public transcription or quotation of the standard, m = from memory, d = derived from the numbers beside it. A test
freezes values tagged s or d-from-s; of the others only the status is held.
"""

import itertools
import math
from typing import NamedTuple

import msgspec
import numpy as np
import pytest

from workbench.board.library import builtin_profiles, profile_of, starter_catalogues
from workbench.board.model import Board
from workbench.board.profile import Sourced, numbers_of
from workbench.errors import WorkbenchError
from workbench.facts import facts_of
from workbench.parts.receiver import Ctle, PolesAndZeros
from workbench.parts.record import Record
from workbench.parts.transmitter import taps_for

IDS = (
    "pcie-1", "pcie-2", "pcie-3", "pcie-4", "pcie-5", "sata-1", "sata-2", "sata-3", "sas-1", "sas-2", "sas-3", "xaui",
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
    "pcie-4": Row(62.5, 8, (800, "s"), (1000, "s"), (15, "s"), (0.30, "s"), (25.5, "s")),
    "pcie-5": Row(31.25, 16, (800, "s"), (1000, "s"), (15, "s"), (0.30, "s"), (32.5, "s")),
    "sata-1": Row(666.667, 0.75, (400, "s"), (600, "s"), (325, "s"), (1 - 0.60, "d"), None),
    "sata-2": Row(333.333, 1.5, (400, "s"), (700, "s"), (275, "m"), (1 - 0.60, "d"), None),
    "sata-3": Row(166.667, 3, (240, "m"), (900, "m"), (240, "m"), None, None),
    "sas-1": Row(333.333, 1.5, None, None, (275, "s"), (1 - 0.55, "d"), None),
    "sas-2": Row(166.667, 3, (850, "m"), (1200, "m"), None, None, None),
    "sas-3": Row(83.333, 6, (850, "s"), (1200, "s"), None, None, None),
    "xaui": Row(320, 1.5625, (800, "m"), (1600, "s"), (200, "s"), (1 - 0.55, "d"), None),
    "dp-rbr": Row(617.284, 0.81, (340, "s"), (1380, "s"), (46, "s"), (0.625 - 0.375, "s"), None),
    "dp-hbr": Row(370.370, 1.35, (340, "s"), (1380, "s"), (150, "s"), (0.755 - 0.246, "s"), None),
    "dp-hbr2": Row(185.185, 2.7, (340, "s"), (1380, "s"), (90, "m"), (0.38, "m"), None),
    "dp-hbr3": Row(123.457, 4.05, (340, "s"), (1380, "s"), None, None, None),
    "hdmi-1.4": Row(294.118, 1.7, (800, "m"), (1200, "m"), (150, "m"), None, None),
    "hdmi-2.0": Row(166.667, 3, (800, "m"), (1200, "m"), (150, "m"), (0.40, "d"), None),
    "usb-5g": Row(200, 2.5, (800, "s"), (1200, "s"), (100, "s"), (1 - 0.66, "d"), (20, "s")),
    "usb-10g": Row(100, 5, (800, "s"), (1200, "s"), (70, "s"), (1 - 0.671, "d"), (23, "s")),
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
    numbers = [number for _, _, number in numbers_of(profile)]
    assert len(numbers) >= 2
    for number in numbers:
        assert math.isfinite(number.value)
        assert len(number.source) > 10
        assert ("recalled" in number.source) == (number.status == "from memory")
    if profile.reference is not None:
        assert ("recalled" in profile.reference.source) == (profile.reference.status == "from memory")
    assert profile.revision


# Status of what was recalled when the profiles were first made and was seen printed since (A: tables 8-15 and 8-14 of a
# public transcription of PCI Express 6.x; U: reprints of USB 3.2 tables; others as their sources say).
SEEN_SINCE = {
    "pcie-1": ("ber",), "pcie-2": ("ber",), "xaui": ("ber", "rate_bps"), "dp-rbr": ("ber", "swing_min_v"),
    "dp-hbr": ("ber", "swing_max_v"), "sas-3": ("swing_min_v", "swing_max_v"), "usb-5g": ("impedance_ohm",),
    "usb-10g": ("ber", "rate_bps", "swing_min_v", "swing_max_v", "impedance_ohm"),
}  # fmt: skip


@pytest.mark.parametrize(("profile_id", "fields"), SEEN_SINCE.items())
def test_what_was_seen_printed_since_is_published(profile_id: str, fields: tuple[str, ...]) -> None:
    for field in fields:
        assert getattr(builtin_profiles()[profile_id], field).status == "published"


def test_pci_express_of_the_two_low_rates_has_limits_at_the_pins_and_at_the_pad() -> None:
    # PCI Express Base 6.x, table 8-15 (die pad, after the 8 GT/s package) and tables 8-10, 8-11 (pins), as transcribed.
    for profile_id, pins, pad in (
        ("pcie-1", (0.175, 0.40), (0.130, 0.35)), ("pcie-2", (0.120, 0.32), (0.085, 0.30)),
    ):  # fmt: skip
        profile = builtin_profiles()[profile_id]
        for package, expected, place in ((False, pins, "pins"), (True, pad, "pad")):
            limits = profile.limits_at_receiver(package=package)
            assert limits.at == place
            assert limits.height_v is not None
            assert limits.width_ui is not None
            assert (limits.height_v.value, limits.width_ui.value) == expected
            assert limits.height_v.status == limits.width_ui.status == "published"


def test_transmitters_for_simulation_are_those_of_table_8_14() -> None:
    # PCI Express Base 6.x, table 8-14, as transcribed: edge, RJ, DJ, pulse-width RJ and DJ in ps; launch 804 mV.
    for profile_id, expected in (
        ("pcie-1", (140, 3.45, 20, 1.42, 80)), ("pcie-2", (70, 3.45, 20, 1.42, 40)),
        ("pcie-3", (43.75, 1.31, 7.0, 1.0, 10)), ("pcie-4", (21.875, 0.71, 3.75, 0.54, 5.0)),
        ("pcie-5", (10.94, 0.276, 1.875, 0.27, 2.5)),
    ):  # fmt: skip
        made = builtin_profiles()[profile_id].transmitter
        assert made is not None
        numbers = (
            made.edge_s, made.random_jitter_s, made.deterministic_jitter_s, made.pulse_random_s,
            made.pulse_deterministic_s,
        )  # fmt: skip
        assert [number.value * 1e12 for number in numbers if number] == pytest.approx(expected)
        assert made.swing_v is not None
        assert made.swing_v.value == 0.804


def test_presets_make_the_coefficients_of_table_8_1() -> None:
    # PCI Express Base 6.2, table 8-1, as transcribed: c-1 and c+1, printed to three places, with dB rounded to 0.1.
    printed = {
        "P0": (0, -0.250), "P1": (0, -0.167), "P2": (0, -0.200), "P3": (0, -0.125), "P4": (0, 0), "P5": (-0.100, 0),
        "P6": (-0.125, 0), "P7": (-0.100, -0.200), "P8": (-0.125, -0.125), "P9": (-0.167, 0),
    }  # fmt: skip
    for profile_id in ("pcie-3", "pcie-4", "pcie-5"):
        presets = {preset.name: preset for preset in builtin_profiles()[profile_id].presets}
        assert [*presets] == [*printed, "P10"]
        assert presets["P10"].deemphasis_db is None
        for name, (before, after) in printed.items():
            deemphasis = presets[name].deemphasis_db
            assert deemphasis is not None
            taps = taps_for(preshoot_db=presets[name].preshoot_db.value, deemphasis_db=deemphasis.value)
            assert (taps.before, taps.after) == pytest.approx((before, after), abs=2.5e-3)


def test_packages_lose_what_the_calibration_channels_leave_them() -> None:
    # PCI Express Base 6.x, table 8-8: 28 and 36 dB with the receiver's package, 24.5-25.5 and 31.5-32.5 dB without.
    for profile_id, whole_db, middle_db in (("pcie-4", 28.0, 25.0), ("pcie-5", 36.0, 32.0)):
        package = builtin_profiles()[profile_id].package_model()
        assert package is not None
        assert package.loss_db == whole_db - middle_db


# IEEE 802.3ap Annex 69B, evaluated outside from constants seen in a public script (A_max) and recalled (the rest, whose
# confirmation is that 25.19 dB at 5.15625 GHz meets the 25 dB that a maker's note prints).
@pytest.mark.parametrize(("f_ghz", "fitted_db", "loss_db"), [(1, 6.716, 7.716), (1.5625, 8.999, 10.111),
                                                             (3, 14.601, 16.001), (5.15625, 23.362, 25.193),
                                                             (6, 26.944, 28.944)])  # fmt: skip
def test_the_limits_of_annex_69b_are_those_of_the_formulas(f_ghz: float, fitted_db: float, loss_db: float) -> None:
    limits = {limit.measure: limit for limit in builtin_profiles()["10gbase-kr"].channel}
    at = np.array([f_ghz * 1e9])
    assert limits["fitted-attenuation"].line_db(at)[0] == pytest.approx(fitted_db, abs=6e-4)
    assert limits["insertion-loss"].line_db(at)[0] == pytest.approx(loss_db, abs=6e-4)
    assert {name for name, limit in limits.items() if limit.judged} == {"fitted-attenuation", "loss-to-crosstalk"}


def test_lines_of_several_stretches_have_no_step_between_them() -> None:
    for limit in builtin_profiles()["10gbase-kr"].channel:
        for one, other in itertools.pairwise(limit.line):
            at = np.array([one.to_hz])
            assert one.to_hz == other.from_hz
            # The return loss is printed with whole dB at its end: 12 - 6.75 log10(3000/275) = 4.99.
            assert one.level_db(at)[0] == pytest.approx(other.level_db(at)[0], abs=0.01)


def test_usbs_feedback_tap_takes_no_negative_value() -> None:
    # USB 3.1, revision 1.0, as transcribed: 0 <= d1 <= 50 mV.
    reference = builtin_profiles()["usb-10g"].reference
    assert reference is not None
    low, high = reference.dfe.bounds_v(0.2)
    assert (low.tolist(), high.tolist()) == ([0.0], [0.05])


def test_a_limit_recalled_with_low_confidence_says_so() -> None:
    limits = builtin_profiles()["dp-hbr2"].limits
    assert limits.height_v is not None
    assert limits.width_ui is not None
    assert "low confidence" in limits.height_v.source
    assert "low confidence" in limits.width_ui.source


def test_limits_behind_equalization_are_those_of_8_gt_per_s_and_up_and_of_reference_receivers() -> None:
    # PCI Express from 8 GT/s, USB (at TP1 after channel and equalizer), DisplayPort TP3_EQ, SAS from 6 Gb/s.
    equalized = {name for name, profile in builtin_profiles().items() if profile.limits.at == "equalized"}
    assert equalized == {
        "pcie-3", "pcie-4", "pcie-5", "sas-2", "sas-3", "dp-hbr2", "dp-hbr3", "hdmi-2.0", "usb-5g", "usb-10g",
        "10gbase-kr",
    }  # fmt: skip


def test_interfaces_that_train_their_transmitter_ask_for_a_transparent_path() -> None:
    trained = {name for name, profile in builtin_profiles().items() if profile.trains_transparently}
    assert trained == {"pcie-3", "pcie-4", "pcie-5", "sas-3", "10gbase-kr"}


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
    # At 32 GT/s three taps, the first at most 0.8 of the cursor, the others 20 mV, sampled up to 0.30 UI to the left.
    taps = {name: builtin_profiles()[name].reference for name in ("pcie-3", "pcie-4", "pcie-5")}
    assert {name: found.dfe.bounds_v(0.1)[1].round(9).tolist() for name, found in taps.items() if found} == {
        "pcie-3": [0.030],
        "pcie-4": [0.030, 0.020],
        "pcie-5": [0.080, 0.020, 0.020],
    }
    assert taps["pcie-5"] is not None
    assert taps["pcie-5"].dfe.sample_left_ui == 0.30


def test_the_equalizer_of_32_gt_per_s_is_the_function_that_the_standard_writes() -> None:
    # PCI Express Base 6.x, 8.4.1.8, as transcribed: H = (wp1 wp3 wp4/wz1) (s + wz1)(s + wp2 A) / prod (s + wp).
    reference = builtin_profiles()["pcie-5"].reference
    assert reference is not None
    equalizer = reference.equalizer
    assert isinstance(equalizer, PolesAndZeros)
    assert equalizer.dc_gain_db == tuple(float(-gain) for gain in range(5, 16))
    f_hz = np.geomspace(1e6, 1e11, 60)
    s = 2j * np.pi * f_hz
    z1, p1, p2, p3 = (2.0 * np.pi * f for f in (450e6, 1.65 * 450e6, 9.5e9, 28e9))
    for rest_db in equalizer.dc_gain_db:
        rest = 10.0 ** (rest_db / 20.0)
        written = (p1 * p3 * p3 / z1) * (s + z1) * (s + p2 * rest) / ((s + p1) * (s + p2) * (s + p3) ** 2)
        np.testing.assert_allclose(equalizer.transfer(rest_db, f_hz), written, rtol=1e-12)


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
        (starter.id, section, entry)
        for starter in starter_catalogues().values()
        for section in starter.catalogue.__struct_fields__
        for entry in getattr(starter.catalogue, section)
    ]


def test_starters_are_marked_as_invented() -> None:
    assert len(starter_catalogues()) >= 4
    assert all("invented" in starter.marked for starter in starter_catalogues().values())


def test_every_number_of_a_starter_entry_names_its_source() -> None:
    for starter_id, section, entry in starter_entries():
        for fact in facts_of(type(entry)):
            provenance = starter_catalogues()[starter_id].provenance(section, entry.name, fact.name)
            assert provenance.source
            assert provenance.status == "common practice" or "invented" not in provenance.source


def test_a_source_belongs_to_an_entry_and_field_that_exist() -> None:
    for starter in starter_catalogues().values():
        for section, entries in starter.sources.items():
            kinds = {entry.name: type(entry) for entry in getattr(starter.catalogue, section)}
            assert entries.keys() == kinds.keys()
            for name, fields in entries.items():
                assert set(fields) - {"*"} <= {fact.name for fact in facts_of(kinds[name])}


def test_starter_entries_are_sound_and_refer_to_entries_of_their_own_starter() -> None:
    for starter_id, _section, entry in starter_entries():
        assert entry.problems() == ()
        catalogue = starter_catalogues()[starter_id].catalogue
        for _field, sections, name in entry.references():
            assert name in {other.name for section in sections for other in getattr(catalogue, section)}


def test_conditioners_cover_every_protocol_family_by_rate_class() -> None:
    """10GBASE-KR has no limiting part, since its link training must see through to the transmitter."""
    conditioners = starter_catalogues()["conditioners"].catalogue.conditioners
    kinds = {(part.__struct_config__.tag, part.name.split(" ")[0]) for part in conditioners}
    both = ("PCIe", "SATA/SAS", "XAUI", "DisplayPort", "HDMI", "USB")
    assert kinds == {("linear", "10GBASE-KR")} | {(kind, one) for kind in ("linear", "limiting") for one in both}
    assert {part.channels for part in conditioners} == {2, 4, 8}
    classes = [sum(part.boost_frequency_hz > border for border in (2e9, 4e9)) for part in conditioners]
    assert classes == sorted(classes)
