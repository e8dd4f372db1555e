"""Measured data in the window, as far as no widget is needed: what a file is, how it reads, what is drawn where."""

import numpy as np
import pytest

from tests.measured.networks import F_HZ, channel, legs, measured
from workbench.board.measurement import MeasuredEye, MeasuredResponse, MeasuredStep, MeasuredWaveform
from workbench.desk.measured.judged import Asked, judged, map_words
from workbench.desk.measured.reading import (
    Draft,
    Given,
    free_name,
    given,
    in_words,
    is_touchstone,
    kind_of,
    measurements_of,
    port_choices,
    table_of,
)
from workbench.desk.panes.overlay.strokes import strokes, words
from workbench.desk.session.overlays import LaidOverlay
from workbench.errors import NotStatedError, TableError
from workbench.measured.overlay.alignment import difference_of
from workbench.measured.overlay.figures import AS_MEASURED, Overlay
from workbench.measured.overlay.fold import fold
from workbench.measured.tables.frequency_tables import MeasuredStretch
from workbench.measured.tables.trace_columns import StatedByUser
from workbench.measured.tables.traces import Belongs
from workbench.measured.touchstone.export import Exported, touchstone_text
from workbench.parts.networks.packed import packed

BELONGS = Belongs("bench", "RX0", "pins")
UI_S = 200e-12


def csv(text: str) -> Given:
    return Given("bench.csv", text.encode())


def four_port(order=((1, 2), (3, 4))) -> Given:
    s = legs(list(order), {(0, 1): 0.02})
    text = touchstone_text(Exported(F_HZ, s, 50.0, (), ("a", "b", "c", "d")))
    return Given("jumper.s4p", text.encode())


def response(parameter: str = "transmission", **more) -> MeasuredResponse:
    f_hz = np.array([1e9, 2e9])
    return MeasuredResponse(
        name="bench", lane="RX0", parameter=parameter, points=2, f_hz=packed(f_hz), real=packed(np.array([0.5, 0.25])),
        **more,
    )  # fmt: skip


def laid(measurement, x, y, model=None, **more) -> LaidOverlay:
    model = y if model is None else model
    apart = difference_of(x, y, model) if x.size else None
    overlay = Overlay("bench", "pins", "", "", "", "dB", x, y, model, AS_MEASURED, apart, (), ())
    return LaidOverlay(measurement, overlay, ui_s=UI_S, **more)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Frequency (GHz),Loss (dB)\n1,2\n2,3\n", "response"),
        ("time (ns),impedance (ohm)\n1,100\n2,101\n", "step"),
        ("time (ns),transmitted (mV)\n1,0\n2,1\n", "step"),
        ("time (ns),Ch1 (mV)\n1,0\n2,1\n", "waveform"),
        ("1,0\n2,1\n", "waveform"),
    ],
)
def test_a_table_shows_by_its_titles_what_it_seems_to_hold(text, kind):
    assert kind_of(table_of(csv(text), Draft("waveform", BELONGS))) == kind


@pytest.mark.parametrize("name", ["a.s1p", "a.S4P", "b.s16p", "c.ts"])
def test_a_touchstone_file_is_known_by_its_name(name):
    assert is_touchstone(name)
    assert not is_touchstone(f"{name}.board.json")


def test_what_a_file_leaves_open_is_asked_for_and_then_read():
    taken = csv("Frequency (GHz),Loss (dB)\n1,2\n2,3\n")
    with pytest.raises(NotStatedError) as asking:
        measurements_of(taken, Draft("response", BELONGS))
    assert asking.value.wanted == "parameter"
    stated = StatedByUser(parameter="transmission", loss_positive=True)
    (found,) = measurements_of(taken, Draft("response", BELONGS, stated=stated))
    # A loss of 2 and 3 dB is a ratio of 10^(-2/20) and 10^(-3/20).
    assert np.abs(found.values()) == pytest.approx([10 ** (-0.1), 10 ** (-0.15)], rel=1e-12)


def test_a_touchstone_file_reads_as_transmission_and_reflection():
    draft = Draft("network", BELONGS, MeasuredStretch(1, 2))
    through, back = measurements_of(four_port(), draft)
    assert (through.parameter, back.parameter, through.first, through.last) == ("transmission", "reflection", 1, 2)
    # Two equal legs without coupling between the pairs: the pair passes in 100 ohm what each leg passes in 50 ohm,
    # less what couples to the other leg, by the definition of the differential mode.
    own = channel(F_HZ)
    coupled = 0.02 * own[1, 0] * (F_HZ / F_HZ[-1])
    assert through.values() == pytest.approx(own[1, 0] - coupled, abs=1e-12)


def test_a_file_that_is_gone_is_one_sentence(tmp_path):
    with pytest.raises(TableError, match=r"gone\.csv"):
        given(tmp_path / "gone.csv")


def test_a_file_is_given_with_the_day_it_was_written(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("1,2\n")
    assert len(given(path).day) == len("2026-01-01")


def test_port_maps_to_choose_from_begin_with_the_guess():
    found = port_choices(measured(legs([(1, 2), (3, 4)], {(0, 1): 0.02})))
    assert [map_words(one) for one in found] == ["1,3:2,4", "2,4:1,3", "3,1:4,2", "1:2; 3:4"]


def test_of_several_ways_through_each_may_be_the_one_in_the_path_and_none_is_lost():
    found = port_choices(measured(legs([(1, 2), (3, 4), (5, 6), (7, 8)], {(0, 1): 0.05, (2, 3): 0.05})))
    assert [map_words(one) for one in found[:2]] == ["1,3:2,4; 5,7:6,8", "5,7:6,8; 1,3:2,4"]
    for one in found:
        assert sorted(port for pair in one.pairs for port in pair.ports) == list(range(1, 9))


def test_a_two_port_may_be_a_pair_or_a_leg():
    found = port_choices(measured(channel(F_HZ), reference=50.0))
    assert [(map_words(one), one.ports_are) for one in found] == [
        ("1:2", "single-ended"), ("2:1", "single-ended"), ("1:2", "differential"),
    ]  # fmt: skip


def test_a_repair_says_what_it_changed_and_the_original_stays():
    plain = judged(Asked(four_port(), "jumper"))
    mended = judged(Asked(four_port(), "jumper", repairs=("rest",)), plain.measured)
    assert mended.network is not None
    assert [one.kind for one in mended.network.repairs] == ["rest"]
    assert mended.network.matrices()[0][0] == 0.0
    assert mended.network.original_matrices()[0] == pytest.approx(F_HZ, rel=1e-15)
    assert {one.about: one.word for one in mended.after.aspects}["band"] == "good"


def test_a_stated_port_map_holds():
    found = judged(Asked(four_port(), "jumper", ports="2,4:1,3"))
    assert map_words(found.ports) == "2,4:1,3"


def test_a_network_whose_ports_the_data_leave_open_is_judged_and_asks():
    order = [(1, 2), (3, 4)]
    s = legs(order)
    s[2, 0] = s[0, 2] = s[1, 0]
    text = touchstone_text(Exported(F_HZ, s, 50.0, (), ("a", "b", "c", "d")))
    found = judged(Asked(Given("odd.s4p", text.encode()), "odd"))
    assert found.network is None
    assert "ports" in found.question or "port" in found.question
    assert found.before.points == F_HZ.size


def test_ports_that_are_said_to_be_whole_pairs_are_not_taken_for_legs():
    found = judged(Asked(four_port(), "jumper", ports_are="differential"))
    assert found.network is None
    assert "whole pairs" in found.question
    stated = judged(Asked(four_port(), "jumper", ports="1:2", ports_are="differential"))
    assert (stated.network.ports_are, stated.network.pairs[0].legs) == ("differential", 1)


def test_a_name_that_is_taken_gets_a_number():
    assert free_name("a", ("a", "a 2")) == "a 3"
    assert free_name("b", ("a",)) == "b"


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (response(), "transmission, magnitude alone, 2 points, 1 GHz to 2 GHz"),
        (response(first=1, last=3), "transmission, elements 1 to 3, magnitude alone, 2 points, 1 GHz to 2 GHz"),
        (MeasuredEye(name="e", lane="RX0", height_v=0.21, width_ui=0.62), "eye, height 210 mV, width 0.62 UI"),
    ],
)
def test_a_measurement_is_said_in_a_few_words(one, said):
    assert in_words(one) == said


def test_transmission_is_drawn_where_its_probe_point_is_on_screen():
    one = laid(response(), np.array([1e9, 2e9]), np.array([-6.0, -12.0]))
    assert strokes("frequency", one, ("receiver",)) == ()
    (drawn,) = strokes("frequency", one, ("receiver", "pins"))
    assert drawn.y.tolist() == [-6.0, -12.0]
    assert strokes("eye", one, ("pins",)) == ()


def test_return_loss_is_drawn_as_the_level_that_comes_back():
    (drawn,) = strokes("frequency", laid(response("reflection"), np.array([1e9]), np.array([15.0])), ())
    assert drawn.y.tolist() == [-15.0]


def test_what_lies_between_places_brings_its_own_model():
    one = laid(response(first=1, last=1), np.array([1e9]), np.array([-3.0]), np.array([-4.0]))
    bench, model = strokes("frequency", one, ())
    assert (bench.y[0], bench.model, model.y[0], model.model) == (-3.0, False, -4.0, True)


def test_the_pulse_in_a_step_is_the_closed_form_of_a_single_pole():
    """A step from -1 to 1 through a pole: 1 - 2 exp(-t/tau); its pulse, half of what it gains in one UI, by hand."""
    tau_s = 60e-12
    x = np.arange(0.0, 12.0 * UI_S, 2e-12)
    step = 1.0 - 2.0 * np.exp(-x / tau_s)
    measurement = MeasuredStep(
        name="s", lane="RX0", quantity="transmitted", points=x.size, time_s=packed(x), values=packed(step)
    )
    (drawn,) = strokes("pulse", laid(measurement, x, step), ("pins",))
    rising = 1.0 - np.exp(-x / tau_s)
    late = np.where(x > UI_S, 1.0 - np.exp(-np.maximum(x - UI_S, 0.0) / tau_s), 0.0)
    assert drawn.y == pytest.approx(rising - late, abs=1e-9)
    assert drawn.x == pytest.approx(x / UI_S)


def test_impedance_stands_where_the_span_that_was_probed_begins():
    x = np.array([0.0, 1e-9])
    measurement = MeasuredStep(
        name="t", lane="RX0", probe="U1 output", quantity="impedance", points=2, time_s=packed(x),
        values=packed(np.array([100.0, 101.0])),
    )  # fmt: skip
    (drawn,) = strokes("impedance", laid(measurement, x, np.array([100.0, 101.0]), start_s=2e-9), ())
    assert drawn.x.tolist() == pytest.approx([2e-9, 3e-9])


def test_the_folded_eye_is_drawn_by_its_edges():
    """A sine of one period in two UI has crossings at the ends and its peak, 0.2 V, in the middle of each UI."""
    x = np.arange(6400) * UI_S / 32.0
    y = 0.2 * np.sin(np.pi * x / UI_S)
    measurement = MeasuredWaveform(name="w", lane="RX0", points=x.size, time_s=packed(x), level_v=packed(y))
    eye = fold(measurement, UI_S)
    drawn = strokes("eye", laid(measurement, x, y, eye=eye), ("pins",))
    assert len(drawn) == 4
    middle = [float(np.interp(0.5, one.x, one.y)) for one in drawn]
    bin_v = float(eye.level_v[1] - eye.level_v[0])
    assert sorted(middle) == pytest.approx([-0.2, -0.2, 0.2, 0.2], abs=2.0 * bin_v)


def test_eye_figures_are_drawn_across_the_middle():
    one = laid(MeasuredEye(name="e", lane="RX0", height_v=0.2, width_ui=0.6), np.zeros(0), np.zeros(0))
    height, width = strokes("eye", one, ("pins",))
    assert (height.y.tolist(), width.x.tolist()) == ([-0.1, 0.1], pytest.approx([0.2, 0.8]))


def test_words_name_the_measurement_and_how_far_it_is_off():
    one = laid(response(), np.array([1e9, 2e9]), np.array([-6.0, -12.0]), np.array([-7.0, -11.0]))
    assert words(one) == "bench: rms 1 dB"
