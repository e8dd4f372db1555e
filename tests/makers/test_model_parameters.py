"""Parameter strings both ways, and jitter and noise in this program's figures."""

import pytest

from tests.makers.compiled import ami
from workbench.errors import ModelError
from workbench.makers.parameter_string import Told, chosen_values, parameter_string, read_back
from workbench.makers.stated import stated_by, unused


def string(chosen: dict, file=None) -> str:
    file = file or ami()
    return parameter_string(file, chosen_values(file, chosen))


def test_only_inputs_are_told_nested_and_taps_in_rising_order():
    assert string({"mode": 2, "taps/1": -0.2}) == (
        "(tests (taps (-1 0.0) (0 1.0) (1 -0.2)) (corner 1000000000.0) (gain 1.0) (mode 2))"
    )
    shuffled = ami(reserved="")._replace(parameters=tuple(reversed(ami().parameters)))
    assert "(taps (-1 0.0) (0 1.0) (1 0.0))" in string({}, shuffled)


def test_the_root_stands_alone_without_inputs():
    bare = ami()._replace(parameters=())
    assert string({}, bare) == "(tests)"


def test_texts_keep_their_quotes_and_the_host_gives_its_own():
    extra = (
        '(Model_Name (Usage In) (Type String) (Value "") (Description ""))'
        '(DLL_ID (Usage In) (Type String) (Value "") (Description ""))'
    )
    assert string({}, ami(reserved=extra)).startswith('(tests (Model_Name "tests") (DLL_ID "\x01identity")')


@pytest.mark.parametrize(
    ("chosen", "says"),
    [
        ({"gian": 1.0}, 'no input "gian"; write "gain"'),
        ({"found": 1.0}, 'no input "found"'),
        ({"taps/1": 3.0}, r"parameter \"taps/1\" = 3\.0: it is outside its range; write -1\.0 to 1\.0"),
        ({"mode": 7}, "it is not one of its values"),
        ({"mode": 1.5}, "it is not an Integer"),
        ({"gain": "high"}, "it is not a Float"),
    ],
)
def test_a_choice_that_does_not_fit_is_refused(chosen, says):
    with pytest.raises(ModelError, match=says):
        chosen_values(ami(), chosen)


def test_what_comes_back_is_read_whatever_else_is_in_it():
    told = read_back('(tests (gain 2.5) (t (row 1 2) (row 3 4)) (name "x y"))', "tests")
    assert told.number("gain") == 2.5
    assert told.values[("name",)] == ("x y",)
    assert (told.number("none"), told.number("name")) == (None, None)
    assert read_back("  ", "tests") == Told({})
    assert "not closed" in read_back("(tests (gain", "tests").oddity


def figure(name: str, kind: str, value: str, usage: str = "Info") -> str:
    return f'({name} (Usage {usage}) (Type {kind}) {value} (Description "x"))'


def stated(*lines: str, **asked):
    asked = {"direction": "receiver", **asked}
    return stated_by(ami(reserved=" ".join(lines)), asked.pop("direction"), bit_time_s=200e-12, **asked)


def test_transmit_jitter_is_rms_and_half_of_peak_to_peak():
    found = stated(
        figure("Tx_Rj", "UI", "(Value 0.01)"), figure("Tx_Dj", "Float", "(Value 3e-12)"),
        figure("Tx_DCD", "UI", "(Value 0.005)"), figure("Tx_Sj", "UI", "(Value 0.1)"), direction="transmitter",
    )  # fmt: skip
    assert found.random_jitter_s == pytest.approx(2e-12)
    assert found.deterministic_jitter_s == pytest.approx(2 * 3e-12 + 2 * 1e-12)
    assert [sentence.partition(" ")[0] for sentence in found.sentences] == ["Tx_Rj", "Tx_Dj", "Tx_DCD", "Tx_Sj:"]
    assert "not counted" in found.sentences[-1]


def test_sinusoidal_jitter_counts_with_its_frequency():
    found = stated(
        figure("Tx_Sj", "UI", "(Value 0.1)"), figure("Tx_Sj_Frequency", "Float", "(Value 1e8)"), direction="transmitter"
    )
    assert found.deterministic_jitter_s == pytest.approx(40e-12)


RECOVERY = (
    figure("Rx_Rj", "Float", "(Value 3e-12)"), figure("Rx_Clock_Recovery_Rj", "Float", "(Value 4e-12)"),
    figure("Rx_Clock_Recovery_Mean", "UI", "(Value 0.02)"),
)  # fmt: skip


def test_the_clock_recovery_counts_only_where_no_clocks_are_returned():
    without, returned = stated(*RECOVERY), stated(*RECOVERY, clocks=True)
    assert (without.random_jitter_s, returned.random_jitter_s) == (pytest.approx(5e-12), pytest.approx(3e-12))
    assert (without.clock_offset_s, returned.clock_offset_s) == (pytest.approx(4e-12), 0.0)
    assert any("the clocks that the model returns hold it already" in sentence for sentence in returned.sentences)


def test_noise_and_sensitivity_and_what_the_model_itself_told():
    lines = (
        figure("Rx_Noise", "Float", "(Value 1e-3)", "Out"), figure("Rx_Receiver_Sensitivity", "Float", "(Value 0.015)")
    )  # fmt: skip
    assert stated(*lines)[2:4] == (1e-3, 0.015)
    assert stated(*lines, told=Told({("Rx_Noise",): ("2e-3",)})).noise_v == 2e-3


@pytest.mark.parametrize(
    ("form", "random_s", "bounded_s"),
    [("Gaussian 0 0.01", 2e-12, 0.0), ("Dual-Dirac -0.02 0.03 0.01", 2e-12, 1e-11), ("DjRj -0.01 0.01 0", 0.0, 4e-12)],
)
def test_older_files_give_jitter_as_a_density(form, random_s, bounded_s):
    found = stated(figure("Tx_Jitter", "UI", f"({form})"), direction="transmitter")
    assert (found.random_jitter_s, found.deterministic_jitter_s) == (pytest.approx(random_s), pytest.approx(bounded_s))


def test_the_corner_chooses():
    line = figure("Tx_Rj", "Float", "(Corner 1e-12 3e-12 5e-13)")
    assert [
        stated(line, direction="transmitter", corner=corner).random_jitter_s for corner in ("typ", "slow", "fast")
    ] == [1e-12, 3e-12, 5e-13]


def test_what_asks_for_more_is_told():
    [sentence] = unused(ami(reserved=figure("BCI_Protocol", "String", '(Value "own")')))
    assert "without it" in sentence
