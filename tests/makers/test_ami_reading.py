"""The grammar of .ami files: examples written from the rules, what is odd, what is refused, and a round trip."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.makers.compiled import ami
from workbench.errors import ModelError
from workbench.makers.ami import ami_of_bytes, read_ami
from workbench.makers.tree import DEEPEST, MOST_ATOMS, MOST_CHARACTERS
from workbench.makers.values import FORMATS, NUMBERS, TYPES, Format, value_of, written

FRAME = """(m (Reserved_Parameters
 (Init_Returns_Impulse (Usage Info) (Type Boolean) (Value True) (Description ""))
 (GetWave_Exists (Usage Info) (Type Boolean) (Value False) (Description "")))
 (Model_Specific {}))"""


def one(text: str):
    """The one parameter of a model, and the file's remarks."""
    file = ami_of_bytes(FRAME.format(text).encode(), "m.ami")
    [*_, found] = file.parameters
    return found, [remark.text for remark in file.remarks]


@pytest.mark.parametrize("word", ["", "Format "])
@pytest.mark.parametrize(
    ("kind", "form", "values", "initial", "choices"),
    [
        ("Float", "Value 0.25", (0.25,), 0.25, ()),
        ("UI", "Range 0.5 0 1", (0.5, 0.0, 1.0), 0.5, ()),
        ("Integer", "List 3 1 2", (3, 1, 2), 3, (3, 1, 2)),
        ("String", 'List "low" "high (|)"', ("low", "high (|)"), "low", ("low", "high (|)")),
        ("Float", "Corner 1 2 0.5", (1.0, 2.0, 0.5), 1.0, (1.0, 2.0, 0.5)),
        ("Float", "Increment 0 -1 1 0.5", (0.0, -1.0, 1.0, 0.5), 0.0, (-1.0, -0.5, 0.0, 0.5, 1.0)),
        ("Integer", "Steps 2 0 8 4", (2, 0, 8, 4), 2, (0, 2, 4, 6, 8)),
        ("Boolean", "Value False", (False,), False, ()),
        ("UI", "Gaussian 0 0.02", (0.0, 0.02), None, ()),
        ("UI", "Dual-Dirac -0.05 0.05 0.01", (-0.05, 0.05, 0.01), None, ()),
        ("Float", "DjRj -1e-12 1e-12 2e-13", (-1e-12, 1e-12, 2e-13), None, ()),
        ("Tap", "Range 0 -0.5 0.5", (0.0, -0.5, 0.5), 0.0, ()),
    ],
)
def test_every_format_with_and_without_the_word(word, kind, form, values, initial, choices):  # noqa: PLR0917
    found, remarks = one(f'(p (Usage In) (Type {kind}) ({word}{form}) (Description "d"))')
    assert (found.type, found.format.name, found.format.values) == (kind, form.split()[0], values)
    assert found.initial() == initial
    assert found.format.choices() == choices
    assert remarks == []


def test_a_table_with_types_per_column():
    found, remarks = one('(p (Usage Out) (Type UI Float) (Table (Labels "t" "v") (0 1.5) (0.5 2)) (Description "d"))')
    assert found.format == Format("Table", labels=("t", "v"), rows=((0.0, 1.5), (0.5, 2.0)))
    assert (found.types, remarks) == (("UI", "Float"), [])


def test_a_corner_of_two_values_and_its_corners():
    found, _ = one('(p (Usage In) (Type Float) (Corner 1 2) (Description "d"))')
    assert [found.format.at_corner(corner) for corner in ("typ", "slow", "fast")] == [1.0, 2.0, 1.0]


def test_older_files_write_fixed_values_as_default():
    found, remarks = one('(p (Usage Info) (Type Integer) (Default 12) (Description "d"))')
    assert (found.format, found.initial(), remarks) == (Format("Value", (12,)), 12, [])


def test_a_default_goes_before_the_lists_first_and_repeats_are_dropped():
    found, remarks = one('(p (Usage In) (Type Integer) (List 0 0 1 2 3) (Default 2) (Description "d"))')
    assert (found.format.values, found.initial()) == ((0, 1, 2, 3), 2)
    assert remarks == ['the list of "p" names a value twice']


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('(p (Usage In) (Type Float) (Format 1 0 2) (Description "d"))', "not named and read as a Range"),
        ('(p (Usage In) (Type Float) (Value 1) (Default 2) (Description "d"))', "both Value and Default"),
        ("(p (Usage In) (Type Float) (Value 1))", "has no description"),
        ('(p (Usage In) (Value 1) (Description "d"))', "has no type; it is read as Float"),
        ('(p (Type Float) (Value 1) (Description "d"))', "has no usage; it is read as Info"),
        ('(p (usage In) (Usage In) (Type Float) (Value 1) (Description "d"))', 'the leaf "usage"'),
        ('(p (Usage In) (Type Boolean) (Value true) (Description "d"))', '"true" is read as True'),
        ('(p (Usage In) (Type Float) (Value "1") (Description "d"))', "stands in quotes"),
        ('(p (Usage In) (Type Float) (Value 3k) (Description "d"))', '"3k" in "p" is not a Float'),
        ('(p (Usage In) (Type Float) (Range 1 2 0) (Description "d"))', "bounds out of order"),
        ('(p (Usage In) (Type Float) (Range 5 0 2) (Description "d"))', "outside its Range"),
        ('(p (Usage In) (Type Integer) (List 1 2) (Default 5) (Description "d"))', "not one of its values"),
        ('(p (Usage In) (Type Float) (Value 1) (Description "over\ntwo lines"))', "over several lines"),
        ('(p (Usage In) (Type Float) (Value 1) (Description "d")) (p (Usage In))', 'second parameter "p"'),
        ('(p (Usage In) (Type String) (Range "a" "b" "c") (Description "d"))', "a Range of the type String"),
        ("(p)", "neither a parameter nor a group"),
    ],
)  # fmt: skip
def test_what_is_odd_is_read_and_told(text, says):
    remarks = [remark.text for remark in ami_of_bytes(FRAME.format(text).encode(), "m.ami").remarks]
    assert any(says in remark for remark in remarks), remarks


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no tree of brackets"),
        ("words", "no tree of brackets"),
        ("(m (Reserved_Parameters", "line 1: the bracket that opens here is not closed"),
        ("(m))", "line 1: a bracket closes here that none opens"),
        ("(m\n\"text)", "line 2: the text that begins here has no closing quote"),
        ("((x))", "the tree has no name"),
        ("(m (Model_Specific))", "no Reserved_Parameters"),
        ("(" * (DEEPEST + 1), f"nest deeper than {DEEPEST}"),
        ("(m " + "x " * MOST_ATOMS + ")", "more than 200,000 words"),
        ("(m " + "x" * MOST_CHARACTERS + ")", "more than the 2,097,152"),
        ("\x00\x01", "is not text"),
    ],
)  # fmt: skip
def test_what_is_no_parameter_file_is_refused_with_its_place(text, says):
    with pytest.raises(ModelError, match=says):
        ami_of_bytes(text.encode(), "m.ami")


def test_carriage_returns_comments_and_latin_letters_are_read(tmp_path):
    path = tmp_path / "m.ami"
    path.write_bytes(FRAME.format("").replace("\n", "| a comment (\r\n").encode() + b"| \xb5s\r\n")
    found = read_ami(path)
    assert [remark.text for remark in found.remarks] == ["it is not UTF-8 and is read as Latin-1"]
    assert (found.root, found.version, found.flag("Init_Returns_Impulse")) == ("m", "5.0", True)


def test_a_file_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(ModelError, match="can't be read"):
        read_ami(tmp_path / "none.ami")


def test_reserved_names_are_known_and_their_usage_looked_at():
    file = ami(
        reserved='(Rx_Noise (Usage In) (Type Float) (Value 1e-3) (Description "n"))'
        '(Own_Idea (Usage Info) (Type Float) (Value 1) (Description "n"))'
    )
    assert {remark.text for remark in file.remarks} == {
        "Rx_Noise has the usage In where the standard has Info or Out or Dep",
        '"Own_Idea" is not a reserved parameter that is known here',
    }


def test_groups_nest_and_keep_their_descriptions():
    file = ami_of_bytes(
        FRAME.format(
            '(g (Description "outer") (h (Description "inner") (p (Usage In) (Type Float) (Value 1))))'
        ).encode(),
        "m.ami",
    )
    assert dict(file.groups) == {("g",): "outer", ("g", "h"): "inner"}
    assert file.parameters[-1].path == ("g", "h", "p")


NAMES = st.from_regex(r"[A-Za-z][A-Za-z0-9_\-]{0,11}", fullmatch=True)
TEXTS = st.text(
    st.characters(codec="latin-1", categories=("L", "N", "P", "S", "Zs"), exclude_characters='"'), max_size=20
)
VALUES = {
    "Float": st.floats(-1e12, 1e12), "UI": st.floats(0.0, 1.0), "Tap": st.floats(-1.0, 1.0),
    "Integer": st.integers(-1000, 1000), "Boolean": st.booleans(), "String": TEXTS,
}  # fmt: skip


@st.composite
def parameters(draw: st.DrawFn):
    kind = draw(st.sampled_from(TYPES))
    value = VALUES[kind]
    names = ["Value", "List", "Corner"]
    if kind in ("Float", "UI", "Integer", "Tap"):
        names += ["Range", "Increment", "Steps"]
    form = draw(st.sampled_from(names))
    if form in ("Range", "Increment", "Steps"):
        low, typical, high = sorted(draw(st.lists(value, min_size=3, max_size=3)))
        values = [typical, low, high]
        if form != "Range":
            values.append(draw(st.integers(1, 9) if kind == "Integer" else st.floats(0.01, 9.0)))
    else:
        count = {"Value": 1, "Corner": 3, "List": draw(st.integers(1, 5))}[form]
        values = draw(st.lists(value, min_size=count, max_size=count, unique=form == "List"))
    usage = draw(st.sampled_from(["In", "Out", "InOut", "Info", "Dep"]))
    return draw(NAMES), usage, kind, form, tuple(values), draw(TEXTS)


@pytest.mark.campaign
@given(st.lists(parameters(), max_size=5, unique_by=lambda known: known[0]), st.sampled_from([" ", "\n", "\t\r\n"]))
def test_what_is_written_by_the_rules_is_read_as_it_was_meant(known, gap):
    text = gap.join(
        f'({name} (Usage {usage}) (Type {kind}) ({form} {" ".join(map(written, values))}) (Description "{words}"))'
        for name, usage, kind, form, values, words in known
    )
    file = ami_of_bytes(FRAME.format(text).encode(), "m.ami")
    assert file.remarks == ()
    found = [
        (one.name, one.usage, one.type, one.format.name, one.format.values, one.description)
        for one in file.parameters
        if not one.reserved
    ]
    assert found == [(*head, " ".join(words.split(" "))) for *head, words in known]


@given(st.sampled_from(TYPES).flatmap(lambda kind: st.tuples(st.just(kind), VALUES[kind])))
def test_a_value_reads_as_it_is_written(case):
    kind, value = case
    text = written(value)
    found = value_of(text.strip('"'), kind, in_quotes=kind == "String")
    assert found.value == value
    assert type(found.value) is type(value)


def test_a_formats_objections_name_what_is_allowed():
    assert Format("Range", (0.0, -1.0, 1.0)).objection(2.0) == "it is outside its range; write -1.0 to 1.0"
    assert Format("List", (1, 2)).objection(3) == 'it is not one of its values; write "1" or "2"'
    assert Format("Increment", (0.0, -1.0, 1.0, 0.5)).objection(0.5) == ""
    assert Format("Value", (1.0,)).objection(77.0) == ""
    stated = {
        form
        for form in FORMATS
        if "leave it out" in Format(form, (1.0, 0.0, 2.0, 1.0)[: NUMBERS.get(form, (1,))[0]]).objection(1.0)
    }
    assert stated == {"Table", "Gaussian", "Dual-Dirac", "DjRj"}
