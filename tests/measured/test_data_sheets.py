"""From a data sheet's figures to a conditioner: what is stated is in it, what is not is said."""

import numpy as np
import pytest

from workbench.errors import ModelError
from workbench.makers.gain_table import GainTable
from workbench.measured.tables.data_sheets import DataSheet, StatedFigures, conditioner_of, left_open
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.table import TableSetting

GAINS = GainTable(np.array([1e8, 2.5e9, 5e9]), ("1", "2"), np.array([[0.0, 3.0, 5.0], [0.0, 6.0, 9.0]]))
SWING = (
    TableSetting(control="swing", setting="low", gain_db=-3.0), TableSetting(control="swing", setting="high"),
)  # fmt: skip


def sheet(**figures):
    return DataSheet("quad", 4, "EQ", GAINS, SWING, StatedFigures(**figures))


def test_what_is_stated_is_in_the_part():
    part = conditioner_of(sheet(compression_v=0.8, random_jitter_s=5e-13, latency_s=1e-10, dc_gain_db=-1.0))
    assert (part.name, part.channels, part.compression_v) == ("quad", 4, 0.8)
    assert [(one.name, one.names) for one in part.controls()] == [("EQ", ("1", "2")), ("swing", ("low", "high"))]
    settings = Settings(EQ="2", swing="low")
    gain = np.abs(part.small_signal_gain(settings, np.array([1e6, 2.5e9, 5e9])))
    assert 20.0 * np.log10(gain) == pytest.approx([-1.0 - 3.0, 6.0 - 3.0, 9.0 - 3.0], abs=0.02)


def test_a_bandwidth_beyond_the_table_is_three_decibels_below_its_last_point():
    part = conditioner_of(sheet(bandwidth_hz=1e10))
    gain = np.abs(part.input_gain(Settings(EQ="1", swing="high"), np.array([1e10])))
    assert 20.0 * np.log10(gain) == pytest.approx([2.0], abs=0.02)


def test_a_return_loss_becomes_the_capacitance_that_has_it():
    part = conditioner_of(sheet(return_loss_db=10.0, return_loss_hz=4e9))
    admittance = 1.0 / 100.0 + 2j * np.pi * 4e9 * part.input_capacitance_f
    reflected = (1.0 / 100.0 - admittance) / (1.0 / 100.0 + admittance)
    assert -20.0 * np.log10(abs(reflected)) == pytest.approx(10.0)
    assert part.output_capacitance_f == part.input_capacitance_f


def test_what_is_silent_has_its_sentence_and_what_is_stated_has_none():
    silent = " ".join(left_open(sheet()).assumed)
    stated = " ".join(
        left_open(
            sheet(
                dc_gain_db=0.0, bandwidth_hz=1e10, compression_v=1.0, input_noise_v=1e-3, noise_band_hz=1e10,
                random_jitter_s=0.0, return_loss_db=12.0, return_loss_hz=4e9, latency_s=0.0,
            )
        ).assumed
    )  # fmt: skip
    for words in ("DC gain", "40 dB per decade", "1 dB compression", "Noise", "jitter", "Return loss", "Latency"):
        assert words in silent
        assert words not in stated
    assert "minimum phase" in stated
    assert "ends below what" in " ".join(left_open(sheet(rate_bps=1.6e10)).assumed)


def test_without_a_name_or_any_setting_there_is_no_part():
    assert left_open(DataSheet("", 1, "EQ", None)).missing == (
        "The part has no name.", "There is neither a table of gains nor any other setting.",
    )  # fmt: skip
    with pytest.raises(ModelError, match="has no name"):
        conditioner_of(DataSheet("", 1, "EQ", GAINS))


def test_jitter_of_output_and_input_unfolds_into_what_the_part_adds():
    # Drawn, not recalled: an input of 3 ps and a part of 4 ps, both Gaussian, come out with 5 ps; two dual-Dirac
    # distributions of 6 and 2 ps reach 8 ps from end to end.
    rng = np.random.default_rng(17)
    random = rng.normal(0.0, 3e-12, 400_000) + rng.normal(0.0, 4e-12, 400_000)
    fixed = rng.choice([-3e-12, 3e-12], 10_000) + rng.choice([-1e-12, 1e-12], 10_000)
    stated = sheet(
        random_jitter_s=float(random.std()), input_random_jitter_s=3e-12,
        deterministic_jitter_s=float(np.ptp(fixed)), input_deterministic_jitter_s=2e-12, jitter_loss_db=12.0,
    )  # fmt: skip
    part = conditioner_of(stated)
    assert part.random_jitter_s == pytest.approx(4e-12, rel=0.01)
    assert part.deterministic_jitter_s == pytest.approx(6e-12)
    told = " ".join(left_open(stated).assumed)
    assert "Added random jitter: " in told
    assert "Added deterministic jitter: 6 ps, the output's less the input's" in told
    assert "after 12 dB of loss" in told


def test_jitter_that_is_stated_as_added_is_taken_as_it_is_and_its_loss_is_told():
    stated = sheet(random_jitter_s=5e-13, deterministic_jitter_s=4e-12, jitter_loss_db=12.0)
    part = conditioner_of(stated)
    assert (part.random_jitter_s, part.deterministic_jitter_s) == (5e-13, 4e-12)
    told = " ".join(left_open(stated).assumed)
    assert "the interference that this loss leaves" in told
    assert "Added random jitter" not in told


@pytest.mark.parametrize(
    ("figures", "says"),
    [
        ({"input_random_jitter_s": 1e-12}, "random jitter of the input is stated, that of the output is not"),
        ({"deterministic_jitter_s": 1e-12, "input_deterministic_jitter_s": 2e-12}, "More deterministic jitter goes in"),
    ],
)  # fmt: skip
def test_jitter_that_can_not_be_unfolded_is_missing(figures, says):
    assert says in " ".join(left_open(sheet(**figures)).missing)
    with pytest.raises(ModelError, match="jitter"):
        conditioner_of(sheet(**figures))
