"""Both flows of compiled models against closed forms: scale, taps, a pole, aggressors, clocks, what is refused."""

import itertools

import numpy as np
import pytest

from tests.makers.compiled import QUICK, ami, model
from workbench.errors import ModelError
from workbench.makers.flows import Convolving, ModelChannel, Running, refusals, row_of, through_init, waves

DT, BIT, PER_BIT, ROWS = 6.25e-12, 200e-12, 32, 1024
TIMES = {"sample_interval_s": DT, "bit_time_s": BIT}
TAPS = {"taps/-1": -0.1, "taps/0": 0.7, "taps/1": -0.2}


def channel(seed: int = 3) -> np.ndarray:
    """A causal response that settles, of 0.8 V swing, V/s."""
    chance = np.random.default_rng(seed)
    shape = np.exp(-np.arange(ROWS) / 40.0) * (1.0 + 0.3 * chance.normal(size=ROWS))
    return 0.8 * shape / (shape.sum() * DT)


def tapped(wave: np.ndarray) -> np.ndarray:
    """What the taps make of samples: one bit late, so that a tap before the main one is causal."""
    late = [np.concatenate([np.zeros(k * PER_BIT), wave])[: wave.size] for k in range(3)]
    return -0.1 * late[0] + 0.7 * late[1] - 0.2 * late[2]


def bits(count: int, seed: int = 5) -> np.ndarray:
    return np.repeat(np.random.default_rng(seed).choice([-0.5, 0.5], count), PER_BIT)


def blocks(wave: np.ndarray, size: int = 999):
    return [wave[start : start + size] for start in range(0, wave.size, size)]


def test_a_unit_impulse_is_one_over_the_interval_and_its_area_the_gain():
    impulse = np.zeros((1, ROWS))
    impulse[0, 0] = 1.0 / DT
    found = through_init(model("TAPS", TAPS), impulse, **TIMES, limits=QUICK).responses[0]
    assert found.sum() * DT == pytest.approx(0.4, rel=1e-12)
    assert found[[0, PER_BIT, 2 * PER_BIT]] * DT == pytest.approx([-0.1, 0.7, -0.2], rel=1e-12)
    assert np.count_nonzero(found) == 3


def test_taps_on_a_response_with_aggressors_column_by_column():
    given = np.stack([channel(1), 0.1 * channel(2), 0.05 * channel(3)])
    found = through_init(model("TAPS", TAPS), given, **TIMES, limits=QUICK)
    assert found.responses == pytest.approx(np.stack([tapped(row) for row in given]), rel=1e-12)


@pytest.mark.parametrize("most", [0, 1, 2])
def test_aggressors_beyond_the_most_go_in_by_turns(most):
    given = np.stack([channel(number) for number in range(4)])
    found = through_init(model("TAPS", TAPS, ami(most=most)), given, **TIMES, limits=QUICK).responses
    through = slice(None) if most else slice(0, 1)
    assert found[through] == pytest.approx(np.stack([tapped(row) for row in given])[through], rel=1e-12)
    if not most:
        assert np.array_equal(found[1:], given[1:])


def test_a_pole_by_its_closed_form_in_both_flows():
    one = model("POLE", {"corner": 2e9})
    k = 1.0 - np.exp(-DT * 2.0 * np.pi * 2e9)
    impulse = np.zeros((1, ROWS))
    impulse[0, 0] = 1.0 / DT
    found = through_init(one, impulse, **TIMES, limits=QUICK).responses[0]
    assert found * DT == pytest.approx(k * (1.0 - k) ** np.arange(ROWS), rel=1e-9, abs=1e-15)
    step = np.full(ROWS, 0.5)
    with Running(one, channel(), **TIMES, limits=QUICK) as running:
        answered = np.concatenate([running.push(block).wave_v for block in blocks(step, 100)])
    assert answered == pytest.approx(0.5 * (1.0 - (1.0 - k) ** np.arange(1, ROWS + 1)), rel=1e-9)


def test_waves_over_block_borders_are_one_convolution():
    wave = bits(300)
    with Running(model("TAPS", TAPS), channel(), **TIMES, limits=QUICK) as running:
        found = np.concatenate([running.push(block).wave_v for block in blocks(wave)])
    assert found == pytest.approx(tapped(wave), abs=1e-15)


def test_blocks_through_a_response_are_one_convolution():
    wave, response = bits(200), channel()
    convolving = Convolving(response, DT)
    found = np.concatenate([convolving.push(block) for block in blocks(wave, 777)])
    assert found == pytest.approx(np.convolve(wave, response * DT)[: wave.size], abs=1e-12)


FLOWS = list(itertools.product(("none", "init", "wave"), ("none", "init", "wave")))


@pytest.mark.parametrize(("sends", "receives"), FLOWS)
def test_linear_models_agree_between_both_flows(sends, receives):
    # Every row of the standard's table: with a filter at either end by response or by wave, the result is one.
    kinds = {"none": None, "init": ami(wave=False), "wave": ami()}
    sender = model("TAPS", TAPS, kinds[sends]) if kinds[sends] else None
    receiver = model("POLE", {"corner": 3e9}, kinds[receives]) if kinds[receives] else None
    response = channel()
    if (sends, receives) == ("wave", "init"):
        with pytest.raises(ModelError, match="holds the transmitter's filter already"):
            list(waves([bits(1)], ModelChannel(response, DT, BIT), transmitter=sender, receiver=receiver))
        return
    statistical = response[np.newaxis]
    for one in (sender, receiver):
        if one is not None:
            statistical = through_init(one, statistical, **TIMES, limits=QUICK).responses
    wave = bits(200)
    found = np.concatenate(
        [
            block.wave_v
            for block in waves(
                blocks(wave), ModelChannel(response, DT, BIT), transmitter=sender, receiver=receiver, limits=QUICK
            )
        ]
    )
    expected = np.convolve(wave, statistical[0] * DT)[: wave.size]
    swing = float(expected.max() - expected.min())
    # A response is known for its window's length only: what its filter's tail drops beyond is far below 1 % of swing.
    assert np.abs(found - expected).max() < 1e-6 * swing


def test_clocks_are_edges_and_their_jitter_is_known():
    with Running(model("CLOCK"), channel(), **TIMES, limits=QUICK) as running:
        found = [running.push(block).clocks_s for block in blocks(bits(100), 999)]
    clocks = np.concatenate(found)
    assert clocks.size == 100
    expected = np.arange(100) + np.where(np.arange(100) % 2, 0.05, 0.0)
    assert clocks / BIT == pytest.approx(expected, abs=1e-9)
    assert (clocks / BIT - np.arange(100)).std() == pytest.approx(0.025, rel=1e-6)


def test_what_a_model_tells_is_read_and_its_message_shown():
    given = channel()
    found = through_init(model("ADAPTS"), given[np.newaxis], **TIMES, limits=QUICK)
    assert found.told.number("found") == pytest.approx(0.8)
    assert found.responses[0].sum() * DT == pytest.approx(1.0)
    assert any("adapted well" in sentence for sentence in found.sentences)
    assert any('begins with "adapts" instead of "tests"' in sentence for sentence in found.sentences)


def test_an_echoed_string_is_what_was_sent():
    found = through_init(model("ECHO", {"mode": 2}), channel()[np.newaxis], **TIMES, limits=QUICK)
    assert found.told.values[("mode",)] == ("2",)
    assert found.told.values[("taps", "-1")] == ("0.0",)
    assert found.sentences == ()


def reserved(line: str) -> str:
    name, kind, value = line.split()
    return f'({name} (Usage Info) (Type {kind}) (Value {value}) (Description "x"))'


@pytest.mark.parametrize(
    ("file", "flow", "says"),
    [
        (ami(returns=False), "statistical", "does not return its response"),
        (ami(returns=False, wave=False), "bit-by-bit", "nothing can be run"),
        (ami(reserved=reserved("Resolve_Exists Boolean True")), "statistical", "AMI_Resolve"),
        (ami(reserved=reserved('Rx_Use_Clock_Input String "Times"')), "bit-by-bit", "another receiver"),
        (ami(reserved=reserved('Modulation String "PAM4"')), "statistical", "two levels"),
        (ami(reserved=reserved('Repeater_Type String "Retimer"')), "bit-by-bit", "retimer"),
    ],
)
def test_what_is_refused_has_its_reason(file, flow, says):
    [reason] = refusals(file, flow)
    assert says in reason


def test_the_rows_of_the_table_have_names():
    both, one = ami(), ami(wave=False)
    assert row_of(both, both) == "both waves"
    assert row_of(one, both) == row_of(None, both) == "receiver's wave"
    assert row_of(one, one) == row_of(None, None) == "responses only"
    assert row_of(both, None) == "both waves"
