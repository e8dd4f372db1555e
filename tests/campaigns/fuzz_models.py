"""Spoils makers' parameter files and .ibs files, and looks at what the program makes of them.

    python -m tests.campaigns.fuzz_models [CASES [FIRST]]

A parameter file that reads is asked for its inputs, its string for AMI_Init, that string read back, and its jitter.
"""

import random
import sys
from functools import lru_cache

from tests.campaigns.fuzz_boards import spoilt_by_bytes
from tests.campaigns.fuzz_tables import spoilt_by_lines
from tests.campaigns.fuzzing import main
from workbench.makers.ami import AmiFile, ami_of_bytes
from workbench.makers.flows import refusals
from workbench.makers.ibs import belonging, ibs_of_bytes
from workbench.makers.parameter_string import chosen_values, objection, parameter_string, read_back
from workbench.makers.stated import stated_by, unused

CASES, SEED = 100_000, 20_264
WORDS = (
    "(", ")", "((", "))", '"', "|", "nan", "inf", "1e999", "--1", "0x10", "9" * 400, "True", "false", "\x00", "µ", "½",
    "(Usage In)", "(Usage InOut)", "(Type Tap)", "(Type Integer)", "(Type String)", "(Default 1)", "(Format Range 0 1)",
    "(List)", "(List 1 1 1)", "(Corner 1)", "(Steps 1 0 2 0)", "(Increment 0 -1 1 1e-300)", "(Increment 0 0 1e9 1e-9)",
    "(Table (1 2) (3))", "(Gaussian 0)", "(DjRj -1 1)", "(Description)", "(Model_Specific (p (Usage In) (Value 1)))",
    "(" * 60, ")" * 60, "(a " * 30 + ")" * 30, "(x" * 2000,
)  # fmt: skip
AMI = """| a model
(correlator (Description "invented")
  (Reserved_Parameters
    (AMI_Version (Usage Info) (Type String) (Value "6.1") (Description "version"))
    (Init_Returns_Impulse (Usage Info) (Type Boolean) (Value True) (Description "returns"))
    (GetWave_Exists (Usage Info) (Type Boolean) (Value True) (Description "waves"))
    (Max_Init_Aggressors (Usage Info) (Type Integer) (Value 3) (Description "aggressors"))
    (Tx_Rj (Usage Info) (Type UI) (Format Corner 0.01 0.02 0.005) (Description "random"))
    (Tx_Dj (Usage Out) (Type Float) (Default 2e-12) (Description "bounded"))
    (Tx_Jitter (Usage Info) (Type UI) (Dual-Dirac -0.02 0.02 0.01) (Description "density"))
    (Rx_Noise (Usage Info) (Type Float) (Range 1e-3 0 1e-2) (Description "noise"))
    (Supporting_Files (Usage Info) (Type String) (Table ("a.txt") ("b/c.txt")) (Description "files")))
  (Model_Specific
    (taps (Description "taps")
      (-1 (Usage In) (Type Tap) (Format Range 0 -0.5 0.5) (Description "before"))
      (0 (Usage In) (Type Tap) (Range 1 0 1) (Description "main"))
      (1 (Usage In) (Type Tap) (Range 0 -0.5 0.5) (Description "after")))
    (mode (Usage InOut) (Type Integer) (List 0 0 1 2) (Default 2) (List_Tip "a" "b" "c" "d") (Description "mode"))
    (name (Usage In) (Type String) (Value "text (|)") (Description "a text"))
    (step (Usage In) (Type Float) (Increment 0 -1 1 0.25) (Description "step"))
    (parts (Usage In) (Type Float) (Steps 1 0 8 16) (Description "parts"))
    (on (Usage In) (Type Boolean) (Value False) (Description "on"))
    (curve (Usage Info) (Type UI Float) (Table (Labels "t" "v") (0 1) (0.5 2)) (Description "curve"))))
"""
IBS = """[IBIS Ver] 6.1
[Comment Char] |_char
[Component] link
[Manufacturer] Invented
[Pin] signal_name model_name R_pin
A1 TXP driver
[Diff Pin] inv_pin vdiff
A1 A2 NA
[Repeater Pin] tx
B1 A1
[Model] driver
Model_type Output
C_comp 0.35pF 0.3pF 0.4pF
[Voltage Range] 1.0V 0.95V NA
[Ramp]
R_load = 50
dV/dt_r 0.3/20p 0.25/25p NA
[Algorithmic Model]
Executable Linux_gcc_64 driver.so driver.ami
Executable Windows_VisualStudio_32 driver.dll driver.ami
[End Algorithmic Model]
[End]
"""


@lru_cache(maxsize=1)
def seeds() -> tuple[tuple[str, bytes], ...]:
    """(ending, content) of sound files: parameters thrice as often."""
    lines = AMI.replace(") (", ")\n(")
    return ((".ami", AMI.encode()), (".ami", lines.encode()), (".ami", lines.encode()), (".ibs", IBS.encode()))


def spoilt(number: int) -> tuple[str, bytes]:
    """Case number so and so: its name's ending and its content."""
    chance = random.Random(SEED * 1_000_003 + number)
    ending, data = chance.choice(seeds())
    kind = chance.random()
    if kind < 0.25:
        try:
            return ending, spoilt_by_bytes(chance, data)
        except UnicodeDecodeError:
            return ending, data[: len(data) // 2]
    if kind < 0.5:
        return ending, spoilt_by_lines(chance, data)
    text = data.decode()
    for _ in range(chance.choice((1, 1, 2, 5))):
        at = chance.randrange(len(text) + 1)
        length = chance.choice((0, 0, 1, 1, 12))
        text = text[:at] + chance.choice((*WORDS, "", "", "", "")) + text[at + length :]
    return ending, text.encode()


def judge(number: int) -> str:
    """Put a case through."""
    ending, data = spoilt(number)
    if ending == ".ibs":
        file = ibs_of_bytes(data, "case.ibs")
        list(belonging(file, "linux", "64"))
        return "read (.ibs)"
    return asked(ami_of_bytes(data, "case.ami"))


def asked(file: AmiFile) -> str:
    """A parameter file that reads, asked for all that a run asks."""
    for known in file.parameters:
        initial = known.initial()
        if known.format is not None and initial is not None and known.default is None and known.given:
            objection(known, initial)
        if known.format is not None:
            known.format.choices()
    values = chosen_values(file, {})
    told = read_back(parameter_string(file, values), file.root)
    assert len(told.values) == len(values), (told, values)
    for direction in ("transmitter", "receiver"):
        found = stated_by(file, direction, bit_time_s=2e-10)  # type: ignore[arg-type]
        assert found.random_jitter_s == found.random_jitter_s
    list(unused(file))
    refusals(file, "statistical")
    refusals(file, "bit-by-bit")
    return "read (.ami) with remarks" if file.remarks else "read (.ami)"


if __name__ == "__main__":
    sys.exit(main("tests.campaigns.fuzz_models", judge, CASES))
