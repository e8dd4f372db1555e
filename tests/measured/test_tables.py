"""Tables as programs and people write them: read rightly, or refused in one sentence with the line.

What a cell means is checked against the values that were written into it (Python's own conversion). That spreadsheets
in much of Europe write semicolons, decimal commas and an old encoding is common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import NotStatedError, TableError, WorkbenchError
from workbench.measured.tables import reading as tables
from workbench.measured.tables.decoding import text_of_bytes, text_of_file, text_of_paste
from workbench.measured.tables.numerals import Cell, as_plain, quantity_of, unit_word
from workbench.measured.tables.reading import TextTable, read_table


def table_of(data: bytes | str, **options: object) -> TextTable:
    raw = data.encode() if isinstance(data, str) else data
    return read_table(text_of_bytes(raw, "bench.csv"), **options)


def refusal(data: bytes | str, **options: object) -> str:
    with pytest.raises(TableError) as refused:
        table_of(data, **options)
    sentence = str(refused.value)
    assert sentence.isprintable()
    return sentence


def values(table: TextTable) -> list[list[float]]:
    return [table.numbers(column, "the value").tolist() for column in table.columns]


PLAIN = "time (s),level (V)\n0.0,0.5\n1.5,-2.25\n"
WANTED = [[0.0, 1.5], [0.5, -2.25]]


@pytest.mark.parametrize("data", [
    pytest.param(PLAIN.encode(), id="plain"),
    pytest.param(PLAIN.replace("\n", "\r\n").encode(), id="crlf"),
    pytest.param(PLAIN.replace("\n", "\r").encode(), id="cr"),
    pytest.param(PLAIN.rstrip().encode(), id="no end of line"),
    pytest.param(PLAIN.encode("utf-8-sig"), id="byte order mark"),
    pytest.param(PLAIN.encode("utf-16"), id="utf-16"),
    pytest.param(PLAIN.encode("utf-16-le"), id="utf-16 le without mark"),
    pytest.param(PLAIN.encode("utf-16-be"), id="utf-16 be without mark"),
    pytest.param(PLAIN.encode("utf-32"), id="utf-32"),
    pytest.param(PLAIN.replace(",", "\t").encode(), id="tabs"),
    pytest.param(PLAIN.replace(",", ";").encode(), id="semicolons"),
    pytest.param(PLAIN.replace(",", ";").replace(".", ",").encode(), id="decimal commas"),
    pytest.param(PLAIN.replace(",", "\t").replace(".", ",").encode(), id="decimal commas, tabs"),
    pytest.param(PLAIN.replace(",", '","').replace("\n", '"\n"').join(['"', ""])[:-1].encode(), id="all quoted"),
    pytest.param(b"time (s),level (V)\n0.0 , 0.5\n 1.5 ,-2.25\n", id="blanks around"),
    pytest.param(b"time level\n0.0 0.5\n1.5 -2.25\n", id="blanks between"),
    pytest.param(b"time level\n0,0   0,5\n1,5  -2,25\n", id="blanks between, decimal commas"),
    pytest.param(b"time,level\ns,V\n0.0,0.5\n1.5,-2.25\n", id="units in a row of their own"),
    pytest.param(b"# taken at night\n\n" + PLAIN.encode() + b"\n\n# end\n", id="comments and empty lines"),
    pytest.param(b"Channel;3\nRecord length;2\n\n" + PLAIN.replace(",", ";").encode(), id="lines before the header"),
    pytest.param(b"time (s),level (V),\n0.0,0.5,\n1.5,-2.25,\n", id="empty last column"),
    pytest.param(b"# time (s), level (V)\n0.0, 0.5\n1.5, -2.25\n", id="header in a comment"),
    pytest.param("time (s),level (V)\n0.0,0.5\n1.5,\u22122.25\n".encode(), id="minus sign"),
    pytest.param(b"time (s);level (V)\n0,0;0,5\n1,5;-2,25e0\n", id="exponent"),
])  # fmt: skip
def test_the_same_table_in_many_forms_reads_the_same(data):
    assert values(table_of(data, all_numeric=True)) == WANTED


def test_grouped_thousands_read_where_another_cell_shows_the_decimal_sign():
    assert values(table_of("a;b\n1.234,5;2.000\n", all_numeric=True)) == [[1234.5], [2000.0]]
    assert values(table_of('a,b\n"1,234.5","2,000"\n', all_numeric=True)) == [[1234.5], [2000.0]]
    assert values(table_of("a;b\n1\u202f234,5;7\n", all_numeric=True)) == [[1234.5], [7.0]]
    assert as_plain("1,23,456", ".") is None


@pytest.mark.parametrize(("data", "line", "says"), [
    ("a;b\n1,5;2\n1;2.5\n", 2, "decimal comma"),
    ("time,level\n0,5,1\n", 2, "decimal commas need semicolons"),
    ("a,b\n1,2\n3\n", 3, "1 cell,"),
    ("a,b\n1,2\n3,4,5\n", 3, "3 cells"),
    ("a,b\n1,x\n3,4\n", 2, "neither a header nor a row of numbers"),
    ('a,b\n1,"2\n3,4\n', 2, "quoted cell"),
    ("a,b\n1,2\n\"3\"x,4\n", 3, "quoted cell"),
    (b"a,b\n1,2\n\xff,3\n", 3, "not UTF-8"),
    (b"a,b\n1,2\0\n", 2, "zero bytes"),
])  # fmt: skip
def test_what_can_be_taken_two_ways_is_refused_with_its_line(data, line, says):
    sentence = refusal(data, all_numeric=True)
    assert sentence.startswith(f"bench.csv, line {line}: ")
    assert says in sentence


@pytest.mark.parametrize(
    "data", [b"", b" \r\n\n", b"\xef\xbb\xbf", b"\0\0\0", b"only words\nand more\n", b"PK\x03\x04zip"]
)
def test_what_holds_no_table_is_refused(data):
    assert refusal(data, all_numeric=True).startswith("bench.csv: it ")


@pytest.mark.parametrize(
    "word", ["nan", "NaN", "inf", "-Infinity", "1e999", "", "1.#IND", "#N/A", "abc", "1_0", "0x10"]
)
def test_what_is_no_finite_number_is_refused_with_its_line(word):
    table = table_of(f"a,b\n1,2\n3,{word}\n5,6\n", all_numeric=True)
    with pytest.raises(TableError, match=r"^bench\.csv, line 3: the level is "):
        table.numbers(table.columns[1], "the level")


def test_a_spreadsheets_failed_value_at_the_line_begin_is_no_comment():
    table = table_of("a,b\n1,2\n#N/A,6\n", all_numeric=True)
    with pytest.raises(TableError, match="line 3"):
        table.numbers(table.columns[0], "the time")


def test_a_number_sign_over_a_column_of_numbers_is_its_title():
    assert [column.title for column in table_of("#,Net,Length (mm)\n1,D0,5\n").columns] == ["#", "Net", "Length (mm)"]


@pytest.mark.parametrize("data", ["a;b\n1,234;5\n", "a\tb\n12,500\t250,000\n"])
def test_a_comma_that_may_be_either_is_asked_for(data):
    with pytest.raises(NotStatedError) as asked:
        table_of(data)
    assert asked.value.wanted == "decimal"
    assert values(table_of(data, decimal=","))[0][0] in (1.234, 12.5)
    assert values(table_of(data, decimal="."))[0][0] in (1234.0, 12500.0)


def test_zero_and_a_comma_can_only_be_a_decimal():
    assert values(table_of("a;b\n0,234;1,500\n")) == [[0.234], [1.5]]


def test_an_old_encoding_is_asked_for_unless_only_the_micro_sign_needs_it():
    assert table_of(b"Net,Length (\xb5m)\nD0,5\n").columns[1].unit_for("m") == "µm"
    with pytest.raises(NotStatedError) as asked:
        table_of(b"Stra\xdfe,b\n1,2\n")
    assert asked.value.wanted == "encoding"
    assert text_of_bytes(b"Stra\xdfe,b\n1,2\n", "x", encoding="cp1252").text.startswith("Straße")
    with pytest.raises(TableError, match="there is no encoding"):
        text_of_bytes(b"a", "x", encoding="cp0")


def test_quoted_cells_hold_separators_line_ends_and_signs_of_comments():
    table = table_of('Net,Note,L\nD0,"a, b\n# no comment",5\nD1,,6\n')
    assert table.rows[0] == ("D0", "a, b\n# no comment", "5")
    assert table.lines == [2, 4]


def test_lines_are_counted_as_an_editor_counts_them():
    table = table_of("# one\r\n\r\nNet,L\r\n# four\r\nD0,5\r\n")
    assert (table.header_line, table.lines) == (3, [5])
    assert [(note.line, note.text) for note in table.notes] == [(1, "one"), (4, "four")]


@pytest.mark.campaign
def test_a_million_comment_lines_are_passed_over():
    table = table_of(b"# nothing\n" * 1_000_000 + b"a,b\n1,2\n", all_numeric=True)
    assert (table.header_line, table.lines) == (1_000_001, [1_000_002])
    assert len(table.notes) < 1000


def test_a_large_table_reads_as_numpy_reads_it():
    rng = np.random.default_rng(1)
    wanted = rng.normal(size=(2000, 2))
    text = "a,b\n" + "\n".join(f"{one!r},{other!r}" for one, other in wanted.tolist())
    assert np.array_equal(np.array(values(table_of(text, all_numeric=True))).T, wanted)


def test_columns_are_found_by_title_by_name_and_by_place():
    table = table_of("Net,Length (mil),Length (mm)\nD0,1,2\n")
    assert table.column("length (MIL)").at == 1
    assert table.column("column 3").at == 2
    with pytest.raises(TableError, match="2 columns are called"):
        table.column("Length")
    with pytest.raises(TableError, match="there is no column"):
        table.column("Width")


@pytest.mark.parametrize(("title", "unit", "wanted"), [
    ("Length (mil)", "m", "mil"), ("Length [MM]", "m", "mm"), ("length_mm", "m", "mm"), ("Length in inches", "m", "in"),
    ("Length, mm", "m", "mm"), ("Length/mm", "m", "mm"), ('Length (")', "m", "in"), ("Time (ns)", "s", "ns"),
    ("second", "s", "s"), ("TIME (S)", "s", "s"), ("time (ps)", "s", "ps"), ("Volt", "V", "V"), ("CH1 (mV)", "V", "mV"),
    ("CH1 (MV)", "V", None), ("f (GHZ)", "Hz", "GHz"), ("freq_MHz", "Hz", "MHz"), ("Length (furlong)", "m", None),
    ("Length", "m", None), ("Time (V)", "s", None), ("Length (min)", "m", None),
])  # fmt: skip
def test_units_in_titles(title, unit, wanted):
    assert table_of(f'"Net","{title.replace(chr(34), chr(34) * 2)}"\nD0,5\n').columns[1].unit_for(unit) == wanted


@pytest.mark.parametrize(("cell", "wanted_m"), [
    ("12 in", 0.3048), ("12in", 0.3048), ('12"', 0.3048), ("1200 mil", 0.03048), ("300 mm", 0.3), ("0.3", 0.0003),
    ("5 MILS", 0.000127), ("1e2 um", 1e-4),
])  # fmt: skip
def test_lengths_with_and_without_a_unit(cell, wanted_m):
    """Inch and mil by definition (25.4 mm, 1959 agreement); the others are decimal."""
    read_m = quantity_of(Cell(1, cell), ".", "x", "the length", unit="m", bare_unit="mm")
    assert read_m == pytest.approx(wanted_m, 1e-15)


@pytest.mark.parametrize("cell", ["12 furlong", "12 s", "mm", "", "- 5", "1.2.3 mm", "12 in in"])
def test_what_is_no_length_is_refused(cell):
    with pytest.raises(TableError, match="line 7"):
        quantity_of(Cell(7, cell), ".", "x", "the length", unit="m", bare_unit="mm")


def test_a_length_without_a_unit_anywhere_is_asked_for():
    with pytest.raises(NotStatedError) as asked:
        quantity_of(Cell(7, "12"), ".", "x", "the length", unit="m", bare_unit=None)
    assert asked.value.wanted == "unit"


def test_capitals_that_mean_something_else_are_no_unit():
    assert unit_word("MV", "V") is None
    assert unit_word("MS", "s") is None
    assert unit_word("MM", "m") == "mm"


def test_files_that_can_not_be_read_are_refused(tmp_path):
    with pytest.raises(TableError, match="there is no file"):
        text_of_file(tmp_path / "none.csv")
    with pytest.raises(TableError, match="is a folder"):
        text_of_file(tmp_path)


def test_pasted_cells_are_a_text_of_their_own():
    text = text_of_paste("Net\tL (mm)\nD0\t5")
    assert text.source.name == "pasted cells"
    assert read_table(text).rows == [("D0", "5")]
    with pytest.raises(TableError):
        text_of_paste("\ud800")


PIECES = st.sampled_from(
    [b"a", b"1", b"0,5", b"1.5", b",", b";", b"\t", b" ", b'"', b"\n", b"\r", b"#", b"(mm)", b"nan", b"-", b"e5",
     b"\xff", b"\0", b"mil", b"time", b"\xc2\xa0", b"\xb5"]
)  # fmt: skip


@settings(derandomize=True, max_examples=150, deadline=None)
@given(st.lists(PIECES, max_size=24).map(b"".join), st.booleans())
def test_any_bytes_read_or_are_refused_in_one_sentence(data, all_numeric):
    refused = None
    try:
        table = table_of(data, all_numeric=all_numeric)
        for column in table.columns:
            table.numbers(column, "the value")
    except WorkbenchError as error:
        refused = error
    if refused is not None:
        assert str(refused).isprintable()
        assert "; " in str(refused)
    else:
        assert all(len(row) >= len(table.columns) for row in table.rows)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(*[st.floats(-1e6, 1e6, allow_subnormal=False)] * 2), min_size=1, max_size=6),
    st.sampled_from([(",", "."), (";", ","), (";", "."), ("\t", ","), ("\t", ".")]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_what_is_written_is_what_is_read(rows, signs, end, encoding):
    between, decimal = signs
    lines = [between.join(("t (s)", "level (V)"))]
    lines += [between.join(repr(value).replace(".", decimal) for value in row) for row in rows]
    data = end.join(lines).encode(encoding)
    try:
        table = table_of(data, all_numeric=True)
    except NotStatedError:
        # Every comma has three digits after it.
        table = table_of(data, all_numeric=True, decimal=decimal)
    assert values(table) == [[row[n] for row in rows] for n in range(2)]


def test_more_rows_than_a_record_may_have_are_refused_while_they_are_read(monkeypatch):
    text = "t_s,v\n" + "".join(f"{n},0\n" for n in range(9))
    assert len(table_of(text).rows) == 9
    monkeypatch.setattr(tables, "_MOST_ROWS", 8)
    with pytest.raises(TableError, match="more than 8 rows"):
        table_of(text)
