"""Measured curves from tables: the numbers that were written are the numbers that are kept, whatever the units, column
order and form; what a table leaves open is asked for.

Tables are invented and made here from known curves. Ratio and dB: 20 log10, by definition.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.edits.lanes import remove_lanes, rename_lane
from workbench.board.edits.measured import put_measurement, remove_measurement
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.errors import EditError, NotStatedError, TableError, WorkbenchError
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.frequency_tables import MeasuredStretch, read_response
from workbench.measured.tables.reading import TextTable, read_table
from workbench.measured.tables.trace_columns import StatedByUser
from workbench.measured.tables.traces import Belongs, measured_eye, read_step, read_waveform
from workbench.parts.networks.packed import packed, unpacked

HERE = Belongs("bench", "D0", "pins")
TIME_S = np.arange(100) * 5e-12
LEVEL_V = np.round(0.4 * np.sin(np.arange(100) / 7.0), 6)


def table(text: str, **options: object) -> TextTable:
    return read_table(text_of_bytes(text.encode(), "scope.csv"), all_numeric=True, **options)


def written(titles: str, *columns: np.ndarray, between: str = ",", decimal: str = ".") -> TextTable:
    texts = [[repr(float(value)).replace(".", decimal) for value in column] for column in columns]
    rows = [between.join(row) for row in zip(*texts, strict=True)]
    return table("\n".join([titles.replace(",", between), *rows]))


@pytest.mark.parametrize(("titles", "x_scale", "y_scale"), [
    ("time (s),level (V)", 1.0, 1.0),
    ("Time (ps),CH1 (mV)", 1e12, 1e3),
    ("second,Volt", 1.0, 1.0),
    ("t_ns,v_mV", 1e9, 1e3),
])  # fmt: skip
@pytest.mark.parametrize("swapped", [False, True])
def test_a_waveform_by_titles_and_units_in_either_order(titles, x_scale, y_scale, swapped):
    columns = [TIME_S * x_scale, LEVEL_V * y_scale]
    if swapped:
        titles, columns = ",".join(reversed(titles.split(","))), columns[::-1]
    wave = read_waveform(written(titles, *columns), HERE)
    assert wave.times_s() == pytest.approx(TIME_S, rel=1e-14, abs=1e-24)
    assert wave.levels_v() == pytest.approx(LEVEL_V, rel=1e-14)
    assert (wave.lane, wave.probe, wave.source, wave.points) == ("D0", "pins", "scope.csv", 100)


def test_decimal_commas_and_semicolons_read_the_same():
    plain = read_waveform(written("time (s),level (V)", TIME_S, LEVEL_V), HERE)
    comma = read_waveform(written("time (s),level (V)", TIME_S, LEVEL_V, between=";", decimal=","), HERE)
    assert (comma.time_s, comma.level_v) == (plain.time_s, plain.level_v)


def test_two_single_ended_channels_are_subtracted_when_asked():
    both = written("time (s),P (V),N (V)", TIME_S, 0.9 + LEVEL_V / 2, 0.9 - LEVEL_V / 2)
    assert read_waveform(both, HERE, StatedByUser(y="P", minus="N")).levels_v() == pytest.approx(LEVEL_V)
    with pytest.raises(NotStatedError) as asked:
        read_waveform(both, HERE)
    assert asked.value.wanted == "y"


@pytest.mark.parametrize("note", [
    "# sample rate: 200 GS/s", "# Sampling rate = 200 GSa/s", "Sample interval;5 ps", "# dt = 5e-12 s", "Made by: x",
])  # fmt: skip
def test_the_sample_rate_of_a_lone_column_is_recognised_or_asked_for(note):
    text = note + "\nlevel (V)\n" + "\n".join(map(repr, LEVEL_V.tolist()))
    if note.endswith("x"):
        with pytest.raises(NotStatedError) as asked:
            read_waveform(table(text), HERE)
        assert asked.value.wanted == "sample_rate_hz"
        assert read_waveform(table(text), HERE, StatedByUser(sample_rate_hz=200e9)).times_s() == pytest.approx(TIME_S)
    else:
        assert read_waveform(table(text), HERE).times_s() == pytest.approx(TIME_S)


def test_times_with_few_digits_need_the_sample_rate_and_must_agree_with_it():
    coarse = written("time (ns),level (V)", np.round(TIME_S * 1e9, 2), LEVEL_V)
    with pytest.raises(TableError, match=r"line 3: the time is that of the line before; .*sample rate"):
        read_waveform(coarse, HERE)
    assert read_waveform(coarse, HERE, StatedByUser(sample_rate_hz=200e9)).times_s() == pytest.approx(TIME_S)
    with pytest.raises(TableError, match="the stated sample rate gives"):
        read_waveform(coarse, HERE, StatedByUser(sample_rate_hz=100e9))


@pytest.mark.parametrize(("titles", "stated", "wanted"), [
    ("time,level (V)", StatedByUser(), "x_unit"),
    ("time (s),level", StatedByUser(), "y_unit"),
    ("time (s),level (furlong)", StatedByUser(), "y_unit"),
    ("a,b", StatedByUser(), "x"),
    ("time (lightyear),level (V)", StatedByUser(), "x_unit"),
])  # fmt: skip
def test_what_a_waveform_leaves_open_is_asked_for(titles, stated, wanted):
    with pytest.raises(NotStatedError) as asked:
        read_waveform(written(titles, TIME_S, LEVEL_V), HERE, stated)
    assert asked.value.wanted == wanted
    assert str(asked.value).startswith("scope.csv, line 1: ")


def test_a_table_without_titles_needs_units_and_takes_the_rising_column_as_time():
    bare = table("\n".join(f"{v!r},{t!r}" for t, v in zip((TIME_S * 1e9).tolist(), LEVEL_V.tolist(), strict=True)))
    wave = read_waveform(bare, HERE, StatedByUser(x_unit="ns", y_unit="V"))
    assert wave.levels_v() == pytest.approx(LEVEL_V)
    both_rise = table("\n".join(f"{n},{n}" for n in range(100)))
    with pytest.raises(NotStatedError):
        read_waveform(both_rise, HERE, StatedByUser(x_unit="ns", y_unit="V"))


def test_titles_on_the_wrong_columns_are_refused():
    with pytest.raises(TableError, match="may not be the time"):
        read_waveform(written("time (s),level (V)", LEVEL_V, TIME_S), HERE)


@pytest.mark.parametrize(("spoil", "line", "says"), [
    (lambda t, v: (np.where(t == t[7], t[6], t), v), 9, "that of the line before"),
    (lambda t, v: (np.where(t == t[7], t[3], t), v), 9, "less than that of the line before"),
    (lambda t, v: (t, np.where(t == t[7], np.nan, v)), 9, "not a finite number"),
])  # fmt: skip
def test_times_and_levels_that_can_not_be_are_refused_with_their_line(spoil, line, says):
    with pytest.raises(TableError) as refused:
        read_waveform(written("time (s),level (V)", *spoil(TIME_S, LEVEL_V)), HERE)
    assert f"line {line}: " in str(refused.value)
    assert says in str(refused.value)


def test_too_few_points_are_refused():
    with pytest.raises(TableError, match="needs 64 at least"):
        read_waveform(written("time (s),level (V)", TIME_S[:9], LEVEL_V[:9]), HERE)


F_HZ = np.linspace(1e8, 1e10, 40)
S21 = 0.9 * np.exp(-F_HZ / 1e10 - 2j * np.pi * F_HZ * 1e-10)
DB, DEG = 20 * np.log10(np.abs(S21)), np.degrees(np.angle(S21))


@pytest.mark.parametrize(("titles", "columns", "has_phase"), [
    ("f (GHz),S21 (dB)", (F_HZ / 1e9, DB), False),
    ("Freq (Hz),Insertion loss (dB)", (F_HZ, -DB), False),
    ("Insertion loss (dB),Freq (Hz)", (-DB, F_HZ), False),
    ("f_MHz,s21_db,s21_deg", (F_HZ / 1e6, DB, DEG), True),
    ("f (Hz),S21 phase (rad),S21 (dB)", (F_HZ, np.radians(DEG), DB), True),
    ("f (Hz),SDD21 (dB),SDD21 phase (deg),SDD11 (dB),SDD11 phase (deg)", (F_HZ, DB, DEG, DB - 20, DEG), True),
    ("f (Hz),Re(S21),Im(S21)", (F_HZ, S21.real, S21.imag), True),
    ("f (Hz),Im S21,Re S21", (F_HZ, S21.imag, S21.real), True),
    ("f (Hz),S21 magnitude", (F_HZ, np.abs(S21)), False),
])  # fmt: skip
def test_transmission_in_every_form(titles, columns, has_phase):
    stated = StatedByUser(parameter="transmission") if "11" in titles else StatedByUser()
    response = read_response(written(titles, *columns), HERE, MeasuredStretch(1, 3), stated)
    assert response.parameter == "transmission"
    assert response.has_phase is has_phase
    assert response.frequencies_hz() == pytest.approx(F_HZ)
    assert response.values() == pytest.approx(S21 if has_phase else np.abs(S21), rel=1e-12)
    assert (response.first, response.last) == (1, 3)


def test_return_loss_is_a_reflection():
    response = read_response(written("f (Hz),Return loss (dB)", F_HZ, np.full(40, 20.0)), HERE)
    assert response.parameter == "reflection"
    assert response.values() == pytest.approx(np.full(40, 0.1))


def test_a_loss_with_a_minus_sign_is_read_as_loss_and_noted():
    response = read_response(written("f (Hz),Insertion loss (dB)", F_HZ, DB), HERE)
    assert response.values() == pytest.approx(np.abs(S21))
    assert "negative dB" in response.notes


@pytest.mark.parametrize(("titles", "columns", "wanted"), [
    ("f (Hz),level (dB)", (F_HZ, DB), "parameter"),
    ("f (Hz),S21 (dB),S11 (dB)", (F_HZ, DB, DB), "parameter"),
    ("f (Hz),S21 (dB)", (F_HZ, -DB), "loss_positive"),
    ("f (Hz),S21", (F_HZ, np.abs(S21)), "y"),
    ("f,S21 (dB)", (F_HZ, DB), "x_unit"),
    ("f (Hz),S21 (dB),S21 smoothed (dB)", (F_HZ, DB, DB), "y"),
])  # fmt: skip
def test_what_a_response_leaves_open_is_asked_for(titles, columns, wanted):
    with pytest.raises(NotStatedError) as asked:
        read_response(written(titles, *columns), HERE)
    assert asked.value.wanted == wanted


@pytest.mark.parametrize(("titles", "columns", "says"), [
    ("f (Hz),S21 (dB)", (F_HZ[::-1], DB), "less than"),
    ("f (Hz),S21 (dB)", (np.sort(np.r_[F_HZ[:-1], F_HZ[4]]), DB), "remove one of the two lines"),
    ("f (Hz),S21 magnitude", (F_HZ, DB), "below 0"),
    ("f (Hz),S21 (dB)", (F_HZ, DB * 1e4), "can't be"),
    ("f (Hz),S21 (dB)", (F_HZ - 2e8, DB), "below 0"),
])  # fmt: skip
def test_responses_that_can_not_be_are_refused(titles, columns, says):
    with pytest.raises(TableError, match=r"line \d+") as refused:
        read_response(written(titles, *columns), HERE)
    assert says in str(refused.value)


OHM = 100.0 + 5.0 * np.sin(np.arange(100) / 9.0)


@pytest.mark.parametrize(("titles", "values", "quantity", "wanted"), [
    ("round trip time (s),Impedance (ohm)", OHM, "impedance", OHM),
    ("round trip time (s),Z", OHM, "impedance", OHM),
    ("round trip time (s),rho", LEVEL_V, "reflection", LEVEL_V),
    ("round trip time (s),rho (%)", 100 * LEVEL_V, "reflection", LEVEL_V),
    ("round trip time (s),mrho", 1e3 * LEVEL_V, "reflection", LEVEL_V),
    ("round trip time (s),transmitted (mV)", 1e3 * LEVEL_V, "transmitted", LEVEL_V),
])  # fmt: skip
def test_steps(titles, values, quantity, wanted):
    step = read_step(written(titles, TIME_S, values), HERE)
    assert step.quantity == quantity
    assert step.curve() == pytest.approx(wanted)
    assert step.round_trip is (quantity != "transmitted")


def test_what_a_step_leaves_open_is_asked_for():
    with pytest.raises(NotStatedError) as asked:
        read_step(written("time (s),Z (ohm)", TIME_S, OHM), HERE)
    assert asked.value.wanted == "round_trip"
    assert read_step(written("time (s),Z (ohm)", TIME_S, OHM), HERE, StatedByUser(round_trip=False)).round_trip is False
    with pytest.raises(NotStatedError) as asked:
        read_step(written("round trip time (s),CH1 (V)", TIME_S, LEVEL_V), HERE)
    assert asked.value.wanted == "quantity"


@pytest.mark.parametrize(("titles", "values"), [("round trip time (s),Z", -OHM), ("round trip time (s),rho", OHM)])
def test_steps_that_can_not_be_are_refused(titles, values):
    with pytest.raises(TableError, match="line 2"):
        read_step(written(titles, TIME_S, values), HERE)


@pytest.mark.parametrize("given", [{}, {"width_ui": 1.2}, {"height_v": np.inf}, {"height_v": 0.1, "ber": 0.0}])
def test_an_eye_that_can_not_be_is_refused(given):
    with pytest.raises(TableError):
        measured_eye(HERE, **given)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(arrays.arrays(np.float64, st.integers(0, 40)))
def test_packed_numbers_come_back_to_the_bit(values):
    assert unpacked(packed(values), values.size).tobytes() == values.tobytes()


@pytest.mark.parametrize("spoil", [
    lambda text: text[:-4], lambda text: text + "AAAA", lambda text: "é", lambda text: "", lambda text: "A" + text[1:],
    lambda text: packed(np.zeros(10_000_000)[:100_000]),
])  # fmt: skip
def test_damaged_packed_numbers_are_refused(spoil):
    with pytest.raises(ValueError, match=r"packed|ASCII"):
        unpacked(spoil(packed(TIME_S)), TIME_S.size)


def test_a_uniform_waveform_packs_to_less_than_its_csv():
    time_s = np.arange(5000) * 5e-12
    level_v = np.round(0.4 * np.sin(np.arange(5000) / 7.0), 4)
    csv = sum(len(f"{t:.6e},{v:.4f}\n") for t, v in zip(time_s, level_v, strict=True))
    assert len(packed(time_s)) + len(packed(level_v)) < csv


def measurements() -> list:
    return [
        read_waveform(written("time (s),level (V)", TIME_S, LEVEL_V), HERE),
        read_response(written("f (GHz),S21 (dB),S21 (deg)", F_HZ / 1e9, DB, DEG), HERE._replace(name="loss")),
        read_step(written("round trip time (s),Z", TIME_S, OHM), HERE._replace(name="tdr", probe="transmitter")),
        measured_eye(HERE._replace(name="eye"), height_v=0.1, ber=1e-6),
    ]


def test_measurements_live_in_the_board_file_without_loss():
    board = sample_board()
    for measurement in measurements():
        board = put_measurement(board, measurement)
    again = read_board(dump_board(board)).board
    assert again == board
    assert again.measurements[0].levels_v().tobytes() == LEVEL_V.tobytes()
    assert dump_board(sample_board()) == dump_board(replace(board, measurements=()))


def test_measurements_follow_their_lane():
    board = put_measurement(sample_board(), measurements()[0])
    assert rename_lane(board, "D0", "A0").measurements[0].lane == "A0"
    assert remove_lanes(board, ["D0"]).measurements == ()
    assert remove_measurement(board, "bench") == sample_board()
    with pytest.raises(EditError, match="no measurement"):
        remove_measurement(board, "x")


@pytest.mark.parametrize("changes", [
    {"lane": "none"}, {"points": 99}, {"level_v": "x"}, {"time_s": packed(TIME_S[::-1])},
    {"level_v": packed(np.full(100, np.nan))}, {"points": 0}, {"name": ""},
])  # fmt: skip
def test_a_board_with_a_damaged_measurement_is_refused(changes):
    board = replace(sample_board(), measurements=(replace(measurements()[0], **changes),))
    (fault, *_) = check(board)
    assert fault.place.startswith("$.measurements[0]")
    assert str(fault).isprintable()
    with pytest.raises(EditError):
        put_measurement(sample_board(), board.measurements[0])


def test_two_measurements_of_one_name_are_refused():
    one = measurements()[0]
    assert any("taken" in str(fault) for fault in check(replace(sample_board(), measurements=(one, one))))


TITLES = st.sampled_from([
    "time (s),level (V)", "t (ns),v (mV)", "f (Hz),S21 (dB)", "f (GHz),Re(S11),Im(S11)", "x,y", "round trip (ps),rho",
    "a", "f (Hz),S21 (dB),S21 (deg)", "Z (ohm),time (one way) (s)",
])  # fmt: skip
NUMBERS = st.sampled_from(["0", "1", "2.5", "-3", "nan", "1e300", "1e-300", "", "x", "0,5", "1_0", "5 ps"])


@pytest.mark.campaign
@settings(derandomize=True, max_examples=120, deadline=None)
@given(TITLES, st.lists(st.lists(NUMBERS, min_size=1, max_size=4), max_size=4), st.booleans(), st.integers(0, 2))
def test_any_table_reads_or_is_refused_in_one_sentence(titles, rows, many, kind):
    good = [f"{n},{n / 7},{n / 9}"[: {1: 4, 2: 12, 3: 40}[titles.count(",") + 1]] for n in range(70 if many else 0)]
    refused = None
    try:
        read = (read_waveform, read_step, lambda t, b: read_response(t, b, MeasuredStretch()))[kind]
        read(table("\n".join([titles, *good, *(",".join(row) for row in rows)])), HERE)
    except WorkbenchError as error:
        refused = error
    if refused is not None:
        assert str(refused).isprintable()
