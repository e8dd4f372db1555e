"""Spoils Touchstone files, tables of measured values and lane lists, and looks at what the program makes of them.

    python -m tests.campaigns.fuzz_tables [CASES [FIRST]]

A network that reads is judged, repaired in every way, made a catalogue entry and computed; a table that reads is taken
as each kind of measurement and as a lane list.
"""

import random
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.board.sample import sample_board
from tests.campaigns.fuzz_boards import spoilt_by_bytes
from tests.campaigns.fuzzing import LONGEST_S, allow, main, sentence_fault
from workbench.board.checking import check
from workbench.errors import EditError, NetworkError, TableError
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.frequency_tables import read_response
from workbench.measured.tables.lane_columns import LanePattern
from workbench.measured.tables.lane_lists import take_lane_list
from workbench.measured.tables.reading import TextTable, read_table
from workbench.measured.tables.trace_columns import StatedByUser
from workbench.measured.tables.traces import Belongs, read_step, read_waveform
from workbench.measured.touchstone.ports import entry_of, guessed_ports, network_of
from workbench.measured.touchstone.quality import quality_of
from workbench.measured.touchstone.reading import touchstone_of_bytes
from workbench.measured.touchstone.repair import KINDS, repaired

CASES, SEED = 50_000, 20_263
CORPUS = Path(__file__).parents[1] / "measured" / "corpus"
ENDINGS = (".s1p", ".s2p", ".s4p", ".s3p", ".s12p", ".ts", ".s0p", ".csv", "", ".S2P")
WORDS = (
    "nan", "inf", "-inf", "1e999", "1e-999", "--1", "1,5", "1.2.3", "0x10", "1d3", "", "#", "!", "GHz", "DB", "MA",
    "RI", "R", "0", "-50", "1e-300", "9" * 400, "\x00", "\ufeff", "µs", "“", "Y", "Z", "1_000", "½", "𝟏", "[End]",
    "[Version] 2.0", "[Matrix Format] Lower", "[Number of Ports] 3", "[Two-Port Data Order] 21_12", "[Reference] 50 75",
)  # fmt: skip
SEPARATORS = (",", ";", "\t", " ", "  ", "|", ", ", "\r", "\v")
WIDEST_COMPUTED_HZ = np.linspace(0.0, 2e10, 201)


@lru_cache(maxsize=1)
def seeds() -> tuple[tuple[str, bytes], ...]:
    """(ending, content): the corpus of odd and sound network files, and tables of every kind."""
    networks = [(path.suffix, path.read_bytes()) for path in sorted(CORPUS.iterdir())]
    time_s, level = np.arange(90) * 5e-12, np.sin(np.arange(90) / 7.0)
    wave = "\n".join(["time (s),CH1 (V)", *(f"{t:.6g},{v:.6f}" for t, v in zip(time_s, level, strict=True))])
    german = "\n".join(
        ["Zeit (ns);Spannung (mV)", *(f"{t * 1e9:.6f};{v * 1e3:.3f}".replace(".", ",")
                                      for t, v in zip(time_s, level, strict=True))]
    )  # fmt: skip
    step = "\n".join(["t_ns\tZ (ohm)", *(f"{t * 1e9:.6g}\t{100 + v:.4f}" for t, v in zip(time_s, level, strict=True))])
    loss = "\n".join(
        ["# measured", "Frequency (GHz),SDD21 (dB),SDD21 (deg)",
         *(f"{n / 4:g},{-n / 9:.4f},{-20.0 * n % 360 - 180:.3f}" for n in range(1, 91))]
    )  # fmt: skip
    lanes = "Lane,Card,Cable,Backplane,Layer\n" + "\n".join(f"D{n},{2 + n} in,0.5 m,{120 + n} mm,L3" for n in range(8))
    mils = "name;Card;Cable;Backplane\n" + "\n".join(f"D{n};{20 + n};500;{70 + n},5" for n in range(8))
    tables = [(".csv", text.encode()) for text in (wave, german, step, loss, lanes, mils)]
    sound = [(ending, data) for ending, data in networks if _reads(ending, data)]
    return (*networks, *sound, *sound, *tables, *tables, *tables)


def _reads(ending: str, data: bytes) -> bool:
    try:
        touchstone_of_bytes(data, f"case{ending}")
    except TableError:
        return False
    return True


def _less(chance: random.Random, lines: list[str], at: int) -> None:
    del lines[at]


def _more(chance: random.Random, lines: list[str], at: int) -> None:
    lines.insert(at, chance.choice((lines[chance.randrange(len(lines))], chance.choice(WORDS))))


def _longer(chance: random.Random, lines: list[str], at: int) -> None:
    lines[at] += chance.choice(SEPARATORS) + chance.choice(WORDS)


def _other_cell(chance: random.Random, lines: list[str], at: int) -> None:
    cells = lines[at].replace(",", " ").split() or [""]
    lines[at] = lines[at].replace(chance.choice(cells), chance.choice(WORDS), 1)


def _other_number(chance: random.Random, lines: list[str], at: int) -> None:
    cells = [cell for cell in lines[at].replace(",", " ").split() if cell.replace(".", "", 1).isdecimal()]
    if cells:
        factor = chance.choice((-1.0, 0.0, 1e-6, 0.5, 0.999, 1.001, 2.0, 1e3, 1e12))
        cell = chance.choice(cells)
        lines[at] = lines[at].replace(cell, f"{float(cell) * factor:.6g}", 1)


def _other_options(chance: random.Random, lines: list[str], at: int) -> None:
    at = next((number for number, line in enumerate(lines) if line.startswith("#")), at)
    unit, kind = chance.choice(("Hz", "kHz", "MHz", "GHz")), chance.choice(("S", "S", "S", "Y", "Z", "G"))
    reference = chance.choice(("", "R 50", "R 100", "R 1e-3", "R 0", "R -50", "R 1e9", "R"))
    lines[at] = f"# {unit} {kind} {chance.choice(('RI', 'MA', 'DB'))} {reference}"


def _other_separator(chance: random.Random, lines: list[str], at: int) -> None:
    old, new = chance.sample(SEPARATORS, 2)
    lines[:] = [line.replace(old, new) for line in lines]


def _shuffled(chance: random.Random, lines: list[str], at: int) -> None:
    lines[at:] = chance.sample(lines[at:], len(lines) - at)


def _wrapped(chance: random.Random, lines: list[str], at: int) -> None:
    half = len(lines[at]) // 2
    lines[at : at + 1] = [lines[at][:half], lines[at][half:]]


def _one_line(chance: random.Random, lines: list[str], at: int) -> None:
    lines[at : at + 2] = [" ".join(lines[at : at + 2])]


def _commas(chance: random.Random, lines: list[str], at: int) -> None:
    lines[at] = lines[at].replace(".", ",")


def _cut(chance: random.Random, lines: list[str], at: int) -> None:
    lines[at:] = []


def _again(chance: random.Random, lines: list[str], at: int) -> None:
    lines *= chance.choice((2, 12))


MUTATIONS = (
    _less, _more, _longer, _other_cell, _other_number, _other_number, _other_number, _other_options, _other_separator,
    _shuffled, _wrapped, _one_line, _commas, _cut, _again,
)  # fmt: skip


def spoilt_by_lines(chance: random.Random, data: bytes) -> bytes:
    """A text with one to four of its lines, cells or separators changed."""
    lines = data.decode("utf-8", "replace").splitlines() or [""]
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        chance.choice(MUTATIONS)(chance, lines, chance.randrange(len(lines)))
        lines = lines or [""]
    return chance.choice(("\n", "\n", "\r\n", "\r", "\n\n")).join(lines).encode("utf-8", "surrogatepass")


def spoilt(number: int) -> tuple[str, bytes]:
    """Case number so and so: the ending of its name, and its content."""
    chance = random.Random(SEED * 1_000_003 + number)
    ending, data = chance.choice(seeds())
    if chance.random() < 0.1:
        ending = chance.choice(ENDINGS)
    if chance.random() < 0.25 and data:
        try:
            return ending, spoilt_by_bytes(chance, data)
        except UnicodeDecodeError:
            return ending, data[: len(data) // 2]
    return ending, spoilt_by_lines(chance, data)


def judge(number: int) -> str:
    """Put a case through."""
    ending, data = spoilt(number)
    if ending == ".csv":
        return as_tables(data, number)
    return as_network(f"case{ending}", data)


def as_network(name: str, data: bytes) -> str:
    """A Touchstone file all the way into a path."""
    measured = touchstone_of_bytes(data, name)
    assert np.isfinite(measured.s).all()
    assert all(one < other for one, other in pairwise(measured.f_hz.tolist()))
    ports = guessed_ports(measured)
    quality_of(measured.f_hz, measured.s, measured.reference_ohm, ports.pairs, rate_bps=8e9)
    with suppress(TableError):  # few points or backward phases: those are computed with all the same
        network_of(measured, "case", ports)
    network = entry_of(measured, "case", ports)
    try:
        network = repaired(network, KINDS)
    except NetworkError:
        return "network read, not to be repaired"
    if network.pairs:
        chain = network.chain_matrix(WIDEST_COMPUTED_HZ, {})
        assert np.isfinite(chain.chain).all()
    return "network read, repaired and computed" if network.pairs else "network read and repaired"


def as_tables(data: bytes, number: int) -> str:
    """A table as every kind of measurement and as a lane list; most kinds refuse it, each in time and a sentence."""
    text, belongs = text_of_bytes(data, "case.csv"), Belongs("case", "D0")
    stated = (StatedByUser(), StatedByUser(round_trip=True), StatedByUser(x_unit="s", y_unit="V"))[number % 3]
    ways: dict[str, Callable[[], object]] = {
        "waveform": lambda: read_waveform(read_table(text, all_numeric=True), belongs, stated),
        "step": lambda: read_step(read_table(text, all_numeric=True), belongs, stated),
        "response": lambda: read_response(read_table(text, all_numeric=True), belongs, stated=stated),
        "lane list": lambda: as_lane_list(read_table(text)),
    }
    taken, refusals = [], []
    for kind, way in ways.items():
        allow(LONGEST_S)
        try:
            way()
            taken.append(kind)
        except (TableError, EditError) as error:
            refusals.append(error)
    assert not any(map(sentence_fault, refusals)), [str(error) for error in refusals if sentence_fault(error)]
    if not taken:
        raise refusals[0]
    return f"table read as {' and '.join(taken)}"


def as_lane_list(table: TextTable) -> None:
    """A table as a lane list for the tests' board."""
    pattern = LanePattern(lane="D0", runs=((1, "Card"), (3, "Cable"), (5, "Backplane")), unit="mm", add=True)
    found = take_lane_list(sample_board(4), table, pattern)
    assert not check(found.board)


if __name__ == "__main__":
    sys.exit(main("tests.campaigns.fuzz_tables", judge, CASES))
