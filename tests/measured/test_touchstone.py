"""Touchstone files against the specification's own examples, scikit-rf and its data sets, and a corpus of bad input.

"TS1.1" is the Touchstone File Format Specification, revision 1.1; "TS2.0-ex" the examples of version 2.0 as quoted in
two open-source parsers' tests.
"""

import io
import re
from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone import scan as touchstone_scan
from workbench.measured.touchstone.reading import Measured, read_touchstone, touchstone_of_bytes

CORPUS = Path(__file__).parent / "corpus"
SHIPPED = Path(skrf.__file__).parent / "data"


def read(text: str, name: str = "network.s2p", **stated) -> Measured:
    return touchstone_of_bytes(text.encode(), name, **stated)


def outcome(data: bytes, name: str) -> Measured | TableError:
    try:
        return touchstone_of_bytes(data, name)
    except TableError as refused:
        return refused


def polar(size, degrees):
    return size * np.exp(1j * np.radians(degrees))


# The specification's examples ------------------------------------------------------------------------------------


def test_one_port_in_magnitude_and_angle():
    # TS1.1: S11 = 0.874020 - 0.187948j at 2 MHz (values computed by hand from 0.894, -12.136 degrees).
    found = read("# MHz S MA R 50\n2.000 0.894 -12.136\n", "x.s1p")
    assert found.f_hz.tolist() == [2e6]
    assert found.s[0, 0, 0] == pytest.approx(0.874020 - 0.187948j, abs=1e-6)
    assert found.reference_ohm == (50.0,)


def test_version_1_divides_impedances_by_the_reference_and_version_2_does_not():
    # TS2.0-ex 9 and 10: 0.99 x 75 = 74.25 ohm; the same network, in references of 75 and 20 ohm.
    old = read("# MHz Z MA R 75\n100 0.99 -4\n200 0.80 -22\n300 0.707 -45\n400 0.40 -62\n500 0.01 -89\n", "x.s1p")
    new = read(
        "[Version] 2.0\n# MHz Z MA\n[Number of Ports] 1\n[Number of Frequencies] 5\n[Reference] 20.0\n[Network Data]\n"
        "100 74.25 -4\n200 60 -22\n300 53.025 -45\n400 30 -62\n500 0.75 -89\n[End]\n", "x.ts",
    )  # fmt: skip
    for found, reference in ((old, 75.0), (new, 20.0)):
        impedance = reference * (1.0 + found.s[0, 0]) / (1.0 - found.s[0, 0])
        assert np.abs(impedance) == pytest.approx([74.25, 60.0, 53.025, 30.0, 0.75], rel=1e-12)
        assert np.degrees(np.angle(impedance)) == pytest.approx([-4.0, -22.0, -45.0, -62.0, -89.0], rel=1e-12)


HYBRID = np.array([[polar(0.95, -26), polar(0.04, 76)], [polar(3.57, 157), polar(0.66, -14)]])


@pytest.mark.parametrize("reference", [1.0, 50.0])
def test_hybrid_parameters_of_version_1_are_normalised_element_by_element(reference):
    # TS1.1 example (R 1): h21 = -3.286202 + 1.394910j, h12 = 0.009677 + 0.038812j. With R, h11 is divided by it and
    # h22 multiplied, the ratios stay (TS1.1, normalisation). What the network is does not depend on R: h is taken back.
    found = read(f"# KHz H MA R {reference:g}\n2 .95 -26 3.57 157 .04 76 .66 -14\n")
    h = skrf.network.s2h(np.moveaxis(found.s, -1, 0), np.full((1, 2), reference))[0]
    assert h == pytest.approx(HYBRID * np.array([[reference, 1.0], [1.0, 1.0 / reference]]), rel=1e-12)
    assert HYBRID[1, 0] == pytest.approx(-3.286202 + 1.394910j, abs=1e-6)


@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
def test_admittances_of_version_1_are_multiplied_by_the_reference(form):
    # A series resistor of 25 ohm: y = [[g, -g], [-g, g]], written as y R (TS1.1); S21 = 2 R / (2 R + Z) = 0.8.
    numbers = {"RI": "2 0 -2 0 -2 0 2 0", "MA": "2 0 2 180 2 180 2 0", "DB": " ".join(
        f"{float(20 * np.log10(2.0))!r} {angle}" for angle in (0, 180, 180, 0)
    )}[form]  # fmt: skip
    found = read(f"# GHz Y {form} R 50\n1 {numbers}\n")
    assert found.s[:, :, 0] == pytest.approx(np.array([[0.2, 0.8], [0.8, 0.2]]), abs=1e-12)


def test_a_two_port_of_version_1_runs_by_columns_and_its_noise_data_are_no_points():
    # TS1.1: 2 network points, 2 noise points; S21(2 GHz) = -3.286202 + 1.394910j.
    found = read(
        "# GHZ S MA R 50\n2 .95 -26 3.57 157 .04 76 .66 -14\n22 .60 -144 1.30 40 .14 40 .56 -85\n! NOISE PARAMETERS\n"
        "4 .7 .64 69 .38\n18 2.7 .46 -33 .40\n"
    )  # fmt: skip
    assert found.f_hz.tolist() == [2e9, 22e9]
    assert found.s[1, 0, 0] == pytest.approx(-3.286202 + 1.394910j, abs=1e-6)
    assert found.s[0, 1, 0] == pytest.approx(polar(0.04, 76), abs=1e-12)
    assert found.noise.tolist() == [[4, 0.7, 0.64, 69, 0.38], [18, 2.7, 0.46, -33, 0.40]]
    assert any("amplifies" in note for note in found.notes)


FOUR_ROW_1 = "0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34"
FOUR = (
    f"5.00000 {FOUR_ROW_1}\n0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58\n"
    "0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20\n0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24\n"
)


def test_a_four_port_runs_by_rows():
    # TS1.1 at 5 GHz: S12 = 0.296322 - 0.268688j; largest singular value 0.994736 (computed by scikit-rf).
    found = read(f"# GHZ S MA R 50\n{FOUR}", "x.s4p")
    assert found.s[0, 1, 0] == pytest.approx(0.296322 - 0.268688j, abs=1e-6)
    assert found.s[0, 3, 0] == pytest.approx(polar(0.53, -79.34), abs=1e-12)
    assert np.linalg.svd(found.s[:, :, 0], compute_uv=False)[0] == pytest.approx(0.994736, abs=2e-4)


def test_half_a_matrix_of_version_2_is_mirrored_and_references_may_span_lines():
    # TS2.0-ex 6: Lower, [Reference] over two lines.
    rows = [line.split() for line in FOUR.splitlines()]
    lower = "5 " + rows[0][1] + " " + rows[0][2] + "\n" + "\n".join(
        " ".join(row[: 2 * (n + 2)]) for n, row in enumerate(rows[1:])
    )  # fmt: skip
    found = read(
        "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 4\n[Number of Frequencies] 1\n[Reference] 50 75\n0.01 0.01\n"
        f"[Matrix Format] Lower\n[Network Data]\n{lower}\n[End]\n", "x.ts",
    )  # fmt: skip
    whole = read(f"# GHZ S MA R 50\n{FOUR}", "x.s4p")
    assert found.s == pytest.approx(whole.s, abs=1e-12)
    assert found.reference_ohm == (50.0, 75.0, 0.01, 0.01)


def test_an_upper_half_is_mirrored_too():
    found = read(
        "[Version] 2.1\n# GHz S RI R 50\n[Number of Ports] 3\n[Number of Frequencies] 1\n[Matrix Format] Upper\n"
        "[Network Data]\n1 0.1 0 0.2 0 0.3 0\n0.4 0 0.5 0\n0.6 0\n[End]\n", "x.ts",
    )  # fmt: skip
    assert found.s[:, :, 0].real.tolist() == [[0.1, 0.2, 0.3], [0.2, 0.4, 0.5], [0.3, 0.5, 0.6]]


@pytest.mark.parametrize(("order", "forward"), [("21_12", 0.7), ("12_21", 0.2)])
def test_the_two_port_data_order_of_version_2_counts(order, forward):
    found = read(
        f"[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 2\n[Two-Port Data Order] {order}\n"
        "[Number of Frequencies] 1\n[Network Data]\n1 0 0 0.7 0 0.2 0 0 0\n[End]\n", "x.s2p",
    )  # fmt: skip
    assert found.s[1, 0, 0] == forward


def test_references_per_port_on_the_option_line():
    # Version 2.1, "1.1 syntax": # GHz S MA R 0.01 0.01 50.0 50.0.
    found = read(f"# GHz S MA R 0.01 0.01 50.0 50.0\n{FOUR}", "x.ts")
    assert found.reference_ohm == (0.01, 0.01, 50.0, 50.0)


def test_mixed_modes_are_taken_back_to_ports_whose_signs_are_kept():
    # Modes of a four-port by scikit-rf's own transformation, pairs (1, 2) and (3, 4), written D first, then C.
    rng = np.random.default_rng(3)
    s = (rng.normal(size=(1, 4, 4)) + 1j * rng.normal(size=(1, 4, 4))) / 8.0
    network = skrf.Network(f=[1.0], f_unit="GHz", s=s, z0=50)
    modes = network.copy()
    modes.se2gmm(p=2)
    assert modes.z0[0].real.tolist() == [100.0, 100.0, 25.0, 25.0]

    def text(order: str, m) -> str:
        rows = "\n".join(" ".join(f"{x.real!r} {x.imag!r}" for x in row) for row in m.tolist())
        return (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 4\n[Number of Frequencies] 1\n"
            f"[Mixed-Mode Order] {order}\n[Network Data]\n1 {rows}\n[End]\n"
        )

    found = read(text("D1,2 D3,4 C1,2 C3,4", modes.s[0]), "x.ts")
    assert found.s[:, :, 0] == pytest.approx(s[0], abs=1e-12)
    assert found.reference_ohm == (50.0,) * 4
    # D2,1 is v2 - v1: the same numbers with its row and column of the other sign.
    turn = np.diag([-1.0, 1.0, 1.0, 1.0])
    again = read(text("D2,1 D3,4 C1,2 C3,4", turn @ modes.s[0] @ turn), "x.ts")
    assert again.s[:, :, 0] == pytest.approx(s[0], abs=1e-12)


def test_a_mixed_mode_file_of_admittances_with_single_ports_reads():
    # TS2.0-ex 16: six ports, D2,3 D6,5 C2,3 C6,5 S4 S1, Y parameters, one reference a port, pairs alike.
    numbers = np.diag([0.005, 0.005, 0.02, 0.02, 0.01, 0.01])
    rows = "\n".join(" ".join(f"{x} 0" for x in row) for row in numbers)
    found = read(
        "[Version] 2.0\n# MHz Y RI R 50\n[Number of Ports] 6\n[Number of Frequencies] 1\n"
        "[Reference] 50 75 75 50 0.01 0.01\n[Mixed-Mode Order] D2,3 D6,5 C2,3 C6,5 S4 S1\n[Network Data]\n"
        f"5 {rows}\n[End]\n", "x.ts",
    )  # fmt: skip
    # Ports 1 and 4: 0.01 S against 50 ohm, S = (1 - 0.5) / (1 + 0.5). Ports 2 and 3: modes of 0.005 S against 150 ohm
    # and 0.02 S against 37.5 ohm are 1/7 each, so the ports are 1/7 alone and nothing crosses.
    assert found.s[0, 0, 0] == pytest.approx(1.0 / 3.0, abs=1e-12)
    assert found.s[3, 3, 0] == pytest.approx(1.0 / 3.0, abs=1e-12)
    assert found.s[1:3, 1:3, 0] == pytest.approx(np.eye(2) / 7.0, abs=1e-12)


# scikit-rf and its data sets -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted(SHIPPED.glob("*.s?p")), ids=lambda path: path.name)
def test_the_data_sets_that_scikit_rf_ships_read_as_it_reads_them(path):
    found, known = read_touchstone(path), skrf.Network(str(path))
    assert np.array_equal(found.f_hz, known.f)
    assert np.array_equal(np.moveaxis(found.s, -1, 0), known.s)


@pytest.mark.parametrize("ports", [1, 2, 3, 5, 16])
@pytest.mark.parametrize("form", ["ri", "ma", "db"])
def test_what_scikit_rf_writes_comes_back(ports, form, tmp_path):
    rng = np.random.default_rng(ports)
    s = (rng.normal(size=(3, ports, ports)) + 1j * rng.normal(size=(3, ports, ports))) / (4.0 * ports)
    known = skrf.Network(f=[0.0, 1.0, 2.0], f_unit="GHz", s=s, z0=85.0)
    known.write_touchstone("x", dir=tmp_path, form=form)
    found = read_touchstone(tmp_path / f"x.s{ports}p")
    assert np.moveaxis(found.s, -1, 0) == pytest.approx(s, abs=1e-12)
    assert found.reference_ohm == (85.0,) * ports


def test_where_scikit_rf_reads_otherwise_than_the_specification_says():
    """If one of these fails, scikit-rf has mended it: the guard in `touchstone` may then go."""

    def by_skrf(text: str, name: str):
        file = io.StringIO(text)
        file.name = name
        return skrf.io.touchstone.Touchstone(file).s[0]

    admittance = by_skrf("# GHz Y RI R 50\n1 2 0 -2 0 -2 0 2 0\n", "x.s2p")
    assert not np.allclose(admittance, [[0.2, 0.8], [0.8, 0.2]])
    with pytest.raises(ValueError, match="malformed"):
        by_skrf("# R 50 RI S GHz\n1 0 0 1 0 1 0 0 0\n", "x.s2p")
    with pytest.raises(ValueError, match="shape"):
        by_skrf("# GHz S RI R 50\n1 0 0 1 0 1 0 0 0\n1 0.7 0.64 69 0.38\n", "x.s2p")


# The corpus of bad input -----------------------------------------------------------------------------------------

SOUND = ("cr_line_ends", "crlf_line_ends", "utf16", "utf16_without_mark", "utf8_with_mark", "latin1_comment",
         "trailing_comments", "option_items_in_another_order", "two_option_lines", "noise_block",
         "noise_at_the_last_frequency")  # fmt: skip
SOUND_FOUR = ("keyword_says_four_name_says_two.s2p", "four_ports_without_a_number.ts")
REFUSED = {
    "a_row_lost.s4p": (9, "25 of 33"),
    "announces_more_points.ts": (4, "5 frequencies are announced, 3 are there"),
    "binary.s2p": (1, "not text"),
    "decimal_comma.s2p": (2, "decimal comma"),
    "empty.s2p": (None, "empty"),
    "four_ports_named_two.s2p": (3, "look like 4 ports, not 2"),
    "frequency_last.s2p": (3, "frequency"),
    "half_a_matrix_at_the_end.s2p": (4, "5 of 9 numbers"),
    "half_a_matrix_inside.s2p": (4, "begins in line 3 has 7 of 9"),
    "keyword_without_version.s4p": (2, "[Version]"),
    "magnitudes_before_angles.s2p": (2, "magnitude is below 0"),
    "nan.s2p": (3, "not a finite number"),
    "no_network_data_keyword.ts": (5, "[Network Data]"),
    "no_option_line.s2p": (2, "before any option line"),
    "only_comments.s2p": (None, "no option line"),
    "option_line_late.s2p": (1, "before any option line"),
    "option_line_unknown_word.s2p": (1, '"SMITH"'),
    "overflow.s2p": (3, "1e999"),
    "references_missing_one.ts": (2, "3 reference impedances for 4 ports"),
    "repeated.s2p": (4, "there twice"),
    "says_db_holds_ma.s2p": (1, "as MA"),
    "says_db_holds_ri.s2p": (1, "as RI"),
    "says_ma_holds_db.s2p": (2, "magnitude is below 0"),
    "says_ma_holds_ri.s2p": (3, "magnitude is below 0"),
    "says_ri_holds_db.s2p": (1, "as DB"),
    "says_ri_holds_ma.s2p": (1, "as MA"),
    "two_ports_named_four.s4p": (3, "look like 2 ports, not 4"),
    "underscores.s2p": (2, '"1_0"'),
    "unknown_keyword.ts": (5, "[Port Colour]"),
    "unsorted.s2p": (4, "comes after"),
    "zip.s2p": (None, "packed"),
}


def test_the_corpus_is_all_spoken_of():
    known = {f"{name}.s2p" for name in SOUND} | set(SOUND_FOUR) | set(REFUSED)
    made = {path.name for path in CORPUS.iterdir()} - {"README.md"}
    assert made == known | {"sound.s2p", "sound.s4p", "fortran_exponents.s2p"}


@pytest.mark.parametrize("name", SOUND)
def test_what_can_be_read_rightly_is(name):
    known = read_touchstone(CORPUS / "sound.s2p")
    found = read_touchstone(CORPUS / f"{name}.s2p")
    assert np.array_equal(found.s, known.s)
    assert np.array_equal(found.f_hz, known.f_hz)
    assert found.noise.shape[0] == (2 if name.startswith("noise") else 0)


@pytest.mark.parametrize("name", SOUND_FOUR)
def test_ports_are_counted_where_the_content_says_them(name):
    assert np.array_equal(read_touchstone(CORPUS / name).s, read_touchstone(CORPUS / "sound.s4p").s)


def test_the_two_kinds_of_exponent_are_one():
    assert read_touchstone(CORPUS / "fortran_exponents.s2p").s[1, 0].tolist() == [0.9, 0.8]


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused_in_one_sentence_with_its_line(name):
    line, words = REFUSED[name]
    with pytest.raises(TableError) as refused:
        read_touchstone(CORPUS / name)
    assert refused.value.line == line
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert str(refused.value).startswith(name)


def test_a_mislabelled_format_is_asked_about_and_read_where_it_is_stated_to_be_right():
    path = CORPUS / "says_db_holds_ma.s2p"
    with pytest.raises(NotStatedError) as asked:
        read_touchstone(path)
    assert asked.value.wanted == "trusted"
    assert np.abs(read_touchstone(path, trusted=True).s).max() > 1.0


def test_an_amplifier_is_read_with_a_note_only():
    # In DB with gain: as MA its magnitudes would be negative, as RI far worse.
    found = read("# GHz S DB R 50\n1 -15 10 14 120 -40 30 -12 -60\n2 -14 0 13 90 -38 20 -11 -80\n")
    assert np.abs(found.s[1, 0]) == pytest.approx(10.0 ** (np.array([14.0, 13.0]) / 20.0))
    assert any("amplifies" in note for note in found.notes)
    assert any("S21 before S12" in note for note in found.notes)


@pytest.mark.campaign
def test_very_many_comment_lines_cost_little_and_change_nothing():
    sound = (CORPUS / "sound.s2p").read_text()
    found = read("! nothing to see\n" * 200_000 + sound)
    assert np.array_equal(found.s, read(sound).s)
    with pytest.raises(TableError) as refused:
        read("! nothing to see\n" * 1000 + "# GHz S RI R 50\n1 0 0\n")
    assert refused.value.line == 1002


@pytest.mark.parametrize(
    ("text", "name", "words"),
    [
        ("# GHz S RI R 50\n1 0 0\n", "x.txt", None),
        ("# GHz S RI R 50\n1 0 0 0 0\n", "x.txt", "how many ports"),
        ("# GHz S RI R 0\n1 0 0\n", "x.s1p", "between 0.001"),
        ("# GHz S RI R\n1 0 0\n", "x.s1p", "R without a resistance"),
        ("# GHz MHz S\n1 0 0\n", "x.s1p", "twice"),
        ("# GHz S RI\n-1 0 0\n", "x.s1p", "below 0"),
        ("# GHz S RI\n1 0 0\n", "x.s0p", "0 ports"),
        ("# GHz S RI\n1 0 0\n", "x.s99p", "99 ports"),
        ("# GHz Z RI\n1 -1 0\n", "x.s1p", "no finite scattering"),
        ("# GHz H RI\n1 " + "0 0 " * 9, "x.s3p", "not defined"),
        ("# GHz S RI\n1 0 0\n# GHz S RI\n[Version] 2.0\n", "x.s1p", "after other lines"),
        ("[Version] 3.0\n# GHz S RI\n", "x.ts", "2.0 or 2.1"),
        ("[Version] 2.0\n# GHz S RI\n[Reference] 50\n", "x.ts", "number of ports"),
        ("[Version] 2.0\n# GHz S RI\n[Number of Ports] two\n", "x.ts", "whole number"),
        ("[Version] 2.0\n# GHz S RI\n[Number of Ports] 1\n[Reference] 50 50\n", "x.ts", "more than 1"),
        ("[Version] 2.0\n# GHz S RI\n[Number of Ports] 2\n[Mixed-Mode Order] D1,2\n", "x.ts", "once"),
        ("[Version] 2.0\n# GHz S RI\n[Number of Ports] 2\n[Mixed-Mode Order] X1\n", "x.ts", '"X1"'),
        ("[Version] 2.0\n# GHz S RI\n[Number of Ports] 1\n[Network Data]\n1 0 0 0\n", "x.ts", "4 numbers instead of 3"),
    ],
)  # fmt: skip
def test_each_rule_has_its_sentence(text, name, words):
    if words is None:
        assert read(text, name).ports == 1
        return
    with pytest.raises(TableError, match=re.escape(words)):
        read(text, name)


TOKENS = st.sampled_from([
    "# GHz S RI R 50", "# MA", "[Version] 2.0", "[Number of Ports] 2", "[Network Data]", "[End]", "[Reference] 50 50",
    "[Matrix Format] Lower", "[Mixed-Mode Order] D1,2 C1,2", "[Two-Port Data Order] 12_21", "! Port[1] = a", "!", "\r",
    "1 0 0 0.5 0 0.5 0 0 0", "2 0 0 0.5 0 0.5 0 0 0", "1 .1 .2", "nan", "1 2 3 4 5", "-1e400", "\x00", "é", "[", "#",
])  # fmt: skip


@pytest.mark.campaign
@settings(max_examples=150, derandomize=True, deadline=None)
@given(lines=st.lists(TOKENS, max_size=9), name=st.sampled_from(["a.s2p", "a.s1p", "a.ts", "a"]))
def test_any_lines_are_read_or_refused_in_one_sentence(lines, name):
    found = outcome("\n".join(lines).encode(), name)
    if isinstance(found, TableError):
        assert "\n" not in str(found)
        assert found.line is None or 1 <= found.line <= len(lines) + sum(line == "\r" for line in lines)
    else:
        assert found.s.shape == (found.ports, found.ports, found.f_hz.size)
        assert np.isfinite(found.s).all()
        assert np.all(np.diff(found.f_hz) > 0.0)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(at=st.integers(0, 400), byte=st.integers(0, 255))
def test_one_byte_changed_is_read_or_refused(at, byte):
    data = bytearray((CORPUS / "sound.s2p").read_bytes())
    data[at % len(data)] = byte
    found = outcome(bytes(data), "x.s2p")
    assert "\n" not in str(found) if isinstance(found, TableError) else found.ports == 2


def test_a_line_or_file_that_no_instrument_writes_is_refused_before_it_takes_memory(monkeypatch):
    with pytest.raises(TableError, match=r"line 2: the line is longer than 1 MiB; export it again"):
        read("# GHz S RI R 50\n" + "1 " * 2**20)
    monkeypatch.setattr(touchstone_scan, "MOST_NUMBERS", 20)
    with pytest.raises(TableError, match="line 4: it has more than 20 numbers"):
        read("# GHz S RI R 50\n" + "".join(f"{n} 0 0 1 0 1 0 0 0\n" for n in range(4)))
