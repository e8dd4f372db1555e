"""The fuzz campaigns in short, and what their long runs have found, each as small as it goes."""

import codecs
import json
import sys
import weakref
import zlib

import numpy as np
import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board, sample_json
from tests.campaigns import fuzz_boards, fuzz_models, fuzz_tables, fuzzing
from tests.campaigns.fuzzing import judge_here, sentence_fault
from tests.thinning import sparing
from workbench import quantity
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.reading import MOST_FAULTS, faults_in, load_board, read_board
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import plan_lane
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails import chain
from workbench.engine.tails.density import lower_tail
from workbench.engine.tails.quick import quick_level_v
from workbench.engine.tails.samples import Sample
from workbench.errors import BoardFileError, QuantityError, TableError, WorkbenchError
from workbench.measured.touchstone.ports import entry_of, guessed_ports, stated_ports
from workbench.measured.touchstone.quality import quality_of, share_beyond
from workbench.measured.touchstone.reading import touchstone_of_bytes
from workbench.measured.touchstone.repair import KINDS, repaired
from workbench.parts import network as network_module
from workbench.parts.network import PortPair
from workbench.parts.networks.packed import packed, unpacked


@pytest.mark.parametrize(
    ("campaign", "cases", "fewest_read"), [(fuzz_boards, 40, 3), (fuzz_tables, 150, 8), (fuzz_models, 200, 30)]
)
def test_spoilt_files_read_or_are_refused_in_a_sentence(campaign, cases, fewest_read):
    found = judge_here(campaign.judge, 1_000_000, cases)
    assert found.wrong == []
    read = sum(count for fate, count in found.fates.items() if "read" in fate)
    assert read >= fewest_read
    assert cases - read > fewest_read


def test_a_case_is_the_same_whenever_it_is_made():
    for number in (3, 77, 1_000_001):
        assert fuzz_boards.spoilt(number) == fuzz_boards.spoilt(number)
        assert fuzz_tables.spoilt(number) == fuzz_tables.spoilt(number)
        assert fuzz_models.spoilt(number) == fuzz_models.spoilt(number)


def test_the_judge_would_notice(monkeypatch):
    def broken(number: int) -> str:
        match number:
            case 0:
                raise ZeroDivisionError
            case 1:
                raise WorkbenchError("two\nlines")
            case 2:
                return str(np.log(np.zeros(1)))
            case 3:
                while True:
                    pass
            case _:
                return "read"

    monkeypatch.setattr(fuzzing, "LONGEST_S", 0.05)
    found = judge_here(broken, 0, 5)
    assert [number for number, _ in found.wrong] == [0, 1, 2, 3]
    assert found.fates == {"read": 1}
    assert "Hang" in found.wrong[3][1]


def test_a_file_that_nests_deeper_than_calls_may_is_refused():
    plain = sample_json()
    for _ in range(600):
        plain = {"lanes": plain}
    with pytest.raises(BoardFileError):
        read_board(json.dumps(plain).encode())
    nested = sample_json()
    for _ in range(600):
        nested["lanes"] = [nested["lanes"]]
    with pytest.raises(BoardFileError, match="lanes"):
        read_board(json.dumps(nested).encode())


def test_a_key_of_thousands_of_letters_is_cut_in_the_sentence():
    plain = sample_json()
    plain["lanes"][0]["a" * 5_000] = 1
    with pytest.raises(BoardFileError) as refusal:
        read_board(json.dumps(plain).encode())
    assert not sentence_fault(refusal.value)
    assert len(str(refusal.value)) < 400


def network(text: str):
    return touchstone_of_bytes(text.encode(), "case.s2p")


ROW = "0.1 0 0.8 -0.1 0.8 -0.1 0.1 0"


def test_one_frequency_is_judged_without_a_spacing_and_makes_no_path():
    one = network(f"# GHz S RI R 50\n1 {ROW}\n")
    assert quality_of(one.f_hz, one.s, one.reference_ohm).step_hz is None
    with pytest.raises(TableError, match="one frequency only"):
        guessed_ports(one)
    rested = network(f"# GHz S RI R 50\n0 {ROW}\n1 {ROW}\n")
    with pytest.raises(TableError, match="one frequency above 0 Hz only"):
        guessed_ports(rested)
    pair = PortPair(left=1, right=2)
    assert quality_of(rested.f_hz, rested.s, rested.reference_ohm, (pair,)).points == 2


def test_frequencies_that_are_one_are_refused_and_one_below_the_spacing_is_led_to_rest():
    close = network(f"# GHz S RI R 50\n1e-300 {ROW}\n2 {ROW}\n3 {ROW}\n")
    with pytest.raises(TableError, match="can't be told apart"):
        entry_of(close, "case", guessed_ports(close))
    low = network(f"# GHz S RI R 50\n0.01 {ROW}\n1 {ROW}\n2 {ROW}\n")
    rested = repaired(entry_of(low, "case", guessed_ports(low)), ("rest",))
    assert rested.matrices()[0][0] == 0.0


def test_a_network_known_to_a_few_hertz_stays_passive_far_beyond():
    rows = (
        "1 0.045360 -0.089121 0.688358 -0.579796 0.688358 -0.579796 0.036288 -0.071297\n"
        "2 -0.058850 -0.080850 0.137673 -0.798214 0.137673 -0.798214 -0.047080 -0.064680\n"
        "3 -0.098748 0.015775 -0.368033 -0.629280 -0.368033 -0.629280 -0.078998 0.012620\n"
    )
    odd = network(f"# Hz Z RI R 50\n{rows}")
    seen = repaired(entry_of(odd, "case", guessed_ports(odd)), KINDS)
    assert np.isfinite(seen.chain_matrix(np.linspace(0.0, 2e10, 201), {}).chain).all()


@pytest.mark.parametrize("passed", [("0 0", "0 0"), ("0.5 0", "0 0")])
def test_a_network_that_nothing_passes_is_repaired_and_computed(passed):
    rows = "\n".join(f"{at} 0.1 0 {passed[at > 0]} {passed[at > 0]} 0.1 0" for at in range(4))
    silent = network(f"# GHz S RI R 50\n{rows}\n")
    entry = repaired(entry_of(silent, "case", stated_ports("1:2", silent)), KINDS)
    assert np.isfinite(entry.chain_matrix(np.linspace(0.0, 2e10, 201), {}).chain).all()


@pytest.mark.parametrize("word", ["nan", "NaN", "inf", "infinity", "1/m", "e5 m"])
def test_a_word_that_is_a_number_is_no_unit(word):
    with pytest.raises(QuantityError, match="write a number and a unit"):
        quantity.parse(f"0.5 {word}", unit="m")


def test_a_reference_that_nothing_has_is_refused():
    with pytest.raises(TableError, match=r"between 0\.001 and 1,000,000 ohm"):
        network(f"# GHz S RI R 1e-300\n1 {ROW}\n2 {ROW}\n")


def test_hybrids_of_more_than_two_ports_are_refused_in_every_version():
    rows = "\n".join(f"{at} " + "0.1 0 " * 9 for at in (1, 2, 3))
    text = f"[Version] 2.0\n# GHz G RI R 50\n[Number of Ports] 3\n[Number of Frequencies] 3\n[Network Data]\n{rows}\n"
    with pytest.raises(TableError, match="line 2: G parameters of 3 ports are not defined"):
        touchstone_of_bytes(text.encode(), "case.ts")


def test_a_band_far_beyond_the_rate_costs_nothing():
    assert share_beyond(1e25, 1e9) == pytest.approx(0.0, abs=1e-4)


def test_where_nothing_arrives_the_level_is_nothing():
    silent = Sample(np.zeros((2, 40)), {8: 1.0}, np.zeros(2))
    assert np.abs(quick_level_v(silent, 1e-12)).max() < 1e-7
    assert np.abs(lower_tail(silent).v).max() < 1e-7


def test_a_file_of_a_million_faults_is_refused_with_some_of_them(tmp_path):
    plain = sample_json()
    plain["lanes"] = [{}] * 3_000
    plain |= {f"k{number}": 1 for number in range(3_000)}
    path = tmp_path / "many.board.json"
    path.write_bytes(json.dumps(plain).encode())
    *named, last = faults_in(path)
    assert len(named) == MOST_FAULTS
    assert last.problem == "it has more faults than the 200 named here"
    with pytest.raises(BoardFileError, match="k0"):
        load_board(path)


def test_a_small_block_that_unfolds_to_gigabytes_is_refused_unopened(monkeypatch):
    entry = entry_of(odd := network(f"# GHz S RI R 50\n1 {ROW}\n2 {ROW}\n3 {ROW}\n"), "case", guessed_ports(odd))
    monkeypatch.setattr(network_module, "matrices_of", lambda *_: pytest.fail("it was unfolded"))
    bomb = replace(entry, data=zlib.compress(bytes(2**24)), points=10_000_000)
    [problem] = bomb.problems()
    assert (problem.field, problem.remedy) == ("points", "keep 1,864,135 at most")


def test_of_long_packed_numbers_few_are_kept():
    texts = [packed(np.full(2**18 + 1 + number, 1.0)) for number in range(12)]
    first = weakref.ref(unpacked(texts[0], 2**18 + 1))
    for number, text in enumerate(texts[1:], 1):
        assert unpacked(text, 2**18 + 1 + number)[-1] == 1.0
    assert first() is None


def test_a_chain_that_takes_its_phases_in_turns_gives_the_same_eye(monkeypatch):
    board = sample_board(1)
    lane, index = board.lanes[0], Index(board)
    plan = plan_lane(index, lane, profile_of(board, lane.profile or board.profile))
    whole = assess_lane(Memo(), plan, lane.length_m, board.guard, symbols=Symbols.INDEPENDENT)
    turns = []
    at = chain.Chain.at
    monkeypatch.setattr(chain.Chain, "at", lambda self, phases: turns.append(phases) or at(self, phases))
    monkeypatch.setattr(chain, "_MOST_HELD", 1 << 12)
    again = assess_lane(Memo(), plan, lane.length_m, board.guard, symbols=Symbols.INDEPENDENT)
    assert turns
    assert again.eye.height_v == pytest.approx(whole.eye.height_v, rel=1e-9)
    assert again.eye.width_ui == pytest.approx(whole.eye.width_ui, rel=1e-9)


WATCHED = (
    "open", "exec", "compile", "import", "os.", "subprocess.", "socket.", "shutil.", "pickle.", "marshal.", "ctypes.",
)  # fmt: skip


def deeds_of(run) -> set[str]:
    """What of a process's deeds that reach outside happen while something runs."""
    seen: set[str] = set()
    watching = [True]

    def hook(event: str, given: tuple) -> None:
        if watching[0] and event.startswith(WATCHED):
            seen.add(f"{event} {given[:1]}")

    sys.addaudithook(hook)  # it stays as long as the process does
    try:
        run()
    finally:
        watching[0] = False
    return seen


@pytest.mark.parametrize("campaign", sparing([fuzz_boards, fuzz_models, fuzz_tables], fuzz_boards))
def test_no_code_runs_from_a_file_and_nothing_outside_it_is_opened(campaign):
    first = 2_000_000
    for name in ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be", "latin-1", "utf-8-sig"):
        codecs.lookup(name)
    judge_here(campaign.judge, first, 20)  # what is loaded when it is first needed comes from the program itself
    assert deeds_of(lambda: judge_here(campaign.judge, first + 20, 20)) == set()


def test_the_watch_over_deeds_would_notice(tmp_path):
    path = tmp_path / "other"
    deeds = deeds_of(lambda: (path.write_text("1"), eval("1 + 1")))
    assert any(deed.startswith("open ") for deed in deeds)
    assert any(deed.startswith(("exec ", "compile ")) for deed in deeds)
