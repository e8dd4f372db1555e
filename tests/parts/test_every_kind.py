"""What must hold of every kind of part, whatever it is: passive, reciprocal, causal, finite at rest, well described."""

import math

import msgspec
import numpy as np
import pytest

from tests.parts.samples import BY_LOSS, MICROSTRIP, SAMPLES, Sample
from workbench.board.index import section_names
from workbench.parts.record import ComponentRecord, RunRecord, records_in
from workbench.parts.twoport import LineConstants, TwoPort, cascade, line, propagation, s_parameters

F_HZ = np.concatenate([[0.0], np.geomspace(1e4, 2e11, 400)])
PASSIVE = tuple(sample for sample in SAMPLES if isinstance(sample.record, RunRecord | ComponentRecord))
KINDS = tuple(kind for section in section_names() for kind in records_in(section))

# Energy of the band-limited impulse before the first moment at which anything can arrive, over all of it, at most.
# Found: stripline pairs 2e-11 and less, vias and connectors 1e-12, lines and cables by loss 3e-10, capacitors 8e-9
# (skin effect's tail and the droop, which wrap around the window: the same however early one looks). Microstrips 2e-6:
# their dispersion is a fit of computed permittivities that knows nothing of causality; without it 1e-11.
EARLY_ENERGY = {"MicrostripPair": 5e-6}
EARLY_ENERGY_ELSEWHERE = 2e-8


def named(sample: Sample) -> str:
    return "-".join([type(sample.record).__name__, *(record.name for field, record in sample.parts.by_field)])


def two_port(sample: Sample, f_hz) -> TwoPort:
    record, parts, length_m = sample
    if isinstance(record, RunRecord):
        return line(record.line_constants(f_hz, parts), length_m)
    return record.chain_matrix(f_hz, parts)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_has_a_sample(kind):
    found = [sample for sample in SAMPLES if type(sample.record) is kind]
    assert found, f"add a sample of {kind.__name__} to tests/parts/samples.py"
    for sample in found:
        assert sample.record.problems() == ()
        assert {field for field, *_ in sample.record.references()} == {field for field, _ in sample.parts.by_field}


@pytest.mark.parametrize("sample", PASSIVE, ids=named)
def test_it_is_passive_and_reciprocal(sample):
    # No singular value of S above 1: no more power out than in. AD - BC = 1: the same both ways.
    element = two_port(sample, F_HZ)
    s = s_parameters(element)
    largest = np.linalg.svd(np.moveaxis(np.array(s).reshape(2, 2, -1), -1, 0), compute_uv=False).max()
    assert largest <= 1.0 + 1e-9
    scaled = element.chain * np.exp(element.attenuation_np)
    determinant = scaled[0, 0] * scaled[1, 1] - scaled[0, 1] * scaled[1, 0]
    size = np.abs(scaled[0, 0] * scaled[1, 1]) + 1.0
    assert np.all(np.abs(determinant - 1.0) <= 1e-9 * size)


@pytest.mark.parametrize("sample", PASSIVE, ids=named)
def test_it_is_finite_at_rest_and_continues_to_it(sample):
    # 0 Hz is the limit from above, except of a capacitor, which its docstring says is a short there.
    element = two_port(sample, np.array([0.0, 1e3]))
    assert np.all(np.isfinite(element.chain))
    assert np.all(element.chain[:, :, 0].imag == 0.0)
    s21 = s_parameters(element).s21
    assert s21[0].real > 0.9
    if type(sample.record).__name__ != "Capacitor":
        assert abs(s21[1] - s21[0]) < 1e-3


@pytest.mark.parametrize("sample", PASSIVE, ids=named)
def test_more_of_it_never_carries_more(sample):
    # Matched ends: two in a row pass no more than one at its best (passivity), and both lose at the top of the band.
    single, double = two_port(sample, F_HZ), cascade(two_port(sample, F_HZ), two_port(sample, F_HZ))
    assert np.abs(s_parameters(double).s21).max() <= 1.0 + 1e-9
    loss = [-20.0 * math.log10(abs(np.mean(np.abs(s_parameters(each).s21[300:])))) for each in (single, double)]
    assert loss[1] >= loss[0] - 1e-9


def early_energy(transfer, earliest_s: float, sigma_s: float, df_hz: float) -> float:
    """Share of the energy that a Gaussian pulse of `sigma_s` sends before `earliest_s`, less seven sigma of its own.

    The Gaussian at 7 sigma is 2e-11 of its peak.
    """
    n = 2 * (transfer.size - 1)
    f_hz = np.arange(transfer.size) * df_hz
    gauss = np.exp(-0.5 * (2.0 * np.pi * f_hz * sigma_s) ** 2)
    # A quarter of the window later, so that "before" lies in front and not at the window's end.
    later_s = 0.25 / df_hz
    response = np.fft.irfft(transfer * gauss * np.exp(-2j * np.pi * f_hz * later_s), n)
    time_s = np.arange(n) / (n * df_hz) - later_s
    before = (time_s < earliest_s - 7.0 * sigma_s) & (time_s > -0.2 / df_hz)
    return float(np.sum(response[before] ** 2) / np.sum(response**2))


def earliest_s(sample: Sample) -> float:
    """When the first of a signal can arrive: at the largest phase velocity of any frequency."""
    if isinstance(sample.record, RunRecord):
        f_hz = np.geomspace(1e8, 1e17, 400)
        gamma = propagation(sample.record.line_constants(f_hz, sample.parts)).gamma_per_m
        return float(np.min(gamma.imag / (2.0 * np.pi * f_hz))) * sample.length_m
    return 0.95 * sample.record.flight_time_s(sample.parts)


DF_HZ, SIGMA_S, POINTS = 1.25e6, 8e-12, 1 << 17


@pytest.mark.parametrize("sample", PASSIVE, ids=named)
def test_nothing_arrives_before_its_time(sample):
    f_hz = np.arange(POINTS + 1) * DF_HZ
    s21 = s_parameters(two_port(sample, f_hz)).s21
    limit = EARLY_ENERGY.get(type(sample.record).__name__, EARLY_ENERGY_ELSEWHERE)
    assert early_energy(s21, earliest_s(sample), SIGMA_S, DF_HZ) < limit


def test_the_measure_of_causality_finds_a_loss_without_its_reactance():
    """The judge judged: a skin-effect resistance whose internal inductance is left out must fail by far."""
    f_hz = np.arange(POINTS + 1) * DF_HZ
    z, y = BY_LOSS.line_constants(f_hz, SAMPLES[0].parts)
    added = 2.0 * 100.0 * 7.0 / 8.685889638 * np.sqrt(f_hz / 2.5e9)
    spoilt = line(LineConstants(z - 1j * added, y), 0.3)
    sample = Sample(BY_LOSS, length_m=0.3)
    assert early_energy(s_parameters(spoilt).s21, earliest_s(sample), SIGMA_S, DF_HZ) > 1e-4


def test_a_small_microstrip_is_causal_but_for_its_dispersion():
    # The same pair so small that dispersion does not matter: what is early comes from the dispersion formula alone.
    thin = {field: getattr(MICROSTRIP, field) / 10.0 for field in ("width_m", "gap_m", "thickness_m", "height_m")}
    sample = next(sample for sample in PASSIVE if sample.record is MICROSTRIP)
    sample = sample._replace(record=msgspec.structs.replace(MICROSTRIP, **thin), length_m=0.03)
    f_hz = np.arange(POINTS + 1) * DF_HZ
    s21 = s_parameters(two_port(sample, f_hz)).s21
    assert early_energy(s21, earliest_s(sample), SIGMA_S, DF_HZ) < EARLY_ENERGY_ELSEWHERE


@pytest.mark.parametrize("sample", PASSIVE, ids=named)
def test_its_delay_is_its_time_of_flight(sample):
    """Group delay of S21 around 1 GHz: at least the bare line's, and no more than loads and losses explain."""
    run = isinstance(sample.record, RunRecord)
    flight = earliest_s(sample) if run else sample.record.flight_time_s(sample.parts)
    f_hz = np.array([0.95e9, 1.05e9])
    phase = np.unwrap(np.angle(s_parameters(two_port(sample, f_hz)).s21))
    delay = -np.diff(phase)[0] / (2.0 * np.pi * 1e8)
    # Capacitances (tens of fF at 50 ohm), slower dielectric at 1 GHz than at infinity: 15 % and 20 ps.
    assert 0.9 * flight - 1e-12 < delay < 1.15 * flight + 2e-11
