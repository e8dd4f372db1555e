"""What is read of an .ibs file, from one written by the rules."""

import pytest

from workbench.errors import ModelError
from workbench.makers.ibs import belonging, figure, ibs_of_bytes

TEXT = """\
[IBIS Ver]   6.1
[Comment Char] #_char
# a comment
[File Name] shelf.ibs
[Component] Correlator link    # the part
[Manufacturer] Invented
[Package]
R_pkg 1m NA NA
[Pin] signal_name model_name R_pin L_pin C_pin
A1  TXP  driver  NA NA NA
A2  TXN  driver
B1  RXP  taker
B2  RXN  taker
[Diff_Pin] inv_pin vdiff tdelay_typ
A1  A2  NA 0ns
B1  B2  0.1 0ns
[Repeater Pin] tx_non_inverting_pin
B1  A1
[Model] driver
Model_type Output
C_comp = 0.35pF 0.30p 0.4pF
C_comp_corner 0.35pF 0.4pF 0.3pF
[Voltage Range] 1.0V 0.95V 1.05V
[Ramp]
R_load = 50
dV/dt_r 0.3/20p 0.25/25p NA
dV/dt_f 0.3/20p 0.25/25p 0.35/15p
[Algorithmic Model]
Executable Linux_gcc4.1.2_64 driver.so driver.ami
Executable Windows_VisualStudio_64 sub/driver.dll driver.ami
Executable Linux_gcc_64 ../driver.so driver.ami
[End Algorithmic Model]
[GND Clamp]
0 0 0 0
[Model] taker
Model_type Input
C_comp 0.5pF NA NA
[Algorithmic Model]
Executable Linux_gcc_64 taker.so taker.ami
[End Algorithmic Model]
[End]
"""


def test_the_file_is_read_as_it_was_meant():
    file = ibs_of_bytes(TEXT.encode(), "shelf.ibs")
    [part] = file.components
    assert (file.version, part.name, part.maker) == ("6.1", "Correlator link", "Invented")
    assert part.pins[0] == ("A1", "TXP", "driver")
    assert (part.pairs, part.repeaters) == ((("A1", "A2"), ("B1", "B2")), (("B1", "A1"),))
    driver, taker = file.buffers
    assert (driver.direction, taker.direction) == ("transmitter", "receiver")
    assert driver.capacitance_f == pytest.approx((0.35e-12, 0.4e-12, 0.3e-12))
    assert driver.voltage_v == (1.0, 0.95, 1.05)
    assert (driver.rise_time_s, driver.load_ohm) == (pytest.approx(20e-12), 50.0)
    assert driver.rise[2] is None
    assert taker.capacitance_f[1:] == (None, None)
    assert [line.library for line in driver.executables] == ["driver.so", "sub/driver.dll"]
    assert [line.library for _, line in belonging(file, "linux", "64")] == ["driver.so", "taker.so"]
    assert file.skipped == ("[File Name]", "[Package]", "[GND Clamp]")
    assert [remark.text for remark in file.remarks] == [
        "a file name that leaves the folder of the .ibs file is not followed"
    ]


@pytest.mark.parametrize(
    ("text", "value"),
    [("3.0pF", 3e-12), ("0.28n", 0.28e-9), ("50", 50.0), ("1e-3", 1e-3), ("1.2V", 1.2), ("NA", None), ("5k", 5e3)],
)
def test_numbers_carry_suffixes_and_units(text, value):
    assert figure(text) == (None if value is None else pytest.approx(value))


def test_words_of_both_directions_are_told_apart():
    lines = (
        "[Model] both", "Model_type I/O", "[Algorithmic Model]", "Executable_Tx Linux_g_64 a.so a.ami",
        "Executable_Rx Linux_g_64 b.so b.ami", "Other x y z", "Executable a b",
    )  # fmt: skip
    text = "\n".join(lines)
    file = ibs_of_bytes(text.encode(), "x.ibs")
    assert [line.direction for _, line in file.executables] == ["transmitter", "receiver"]
    assert file.buffers[0].direction == ""
    assert len(file.remarks) == 2


@pytest.mark.parametrize(
    ("data", "says"), [(b"", "no \\[Component\\]"), (b"\x00", "not text"), (b"hello", "no \\[Comp")]
)
def test_what_is_no_such_file_is_refused(data, says):
    with pytest.raises(ModelError, match=says):
        ibs_of_bytes(data, "x.ibs")
