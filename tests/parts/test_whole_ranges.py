"""Whatever a form lets in must compute: any record of any kind, anywhere in its fields' ranges, corners included."""

import math

import msgspec
import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from workbench.board.index import section_names
from workbench.facts import Fact, facts_of
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil, Hammerstad, Huray, Smooth
from workbench.parts.network import Network
from workbench.parts.record import ComponentRecord, Parts, Record, RunRecord, records_in
from workbench.parts.twoport import cascade, line, s_parameters

F_HZ = np.concatenate([[0.0], np.geomspace(1e5, 2e11, 40)])
PASSIVE_KINDS = tuple(
    kind for section in section_names() for kind in records_in(section)
    # A network is what was measured, not what fields say: test_network draws those.
    if issubclass(kind, RunRecord | ComponentRecord) and kind is not Network
)  # fmt: skip
SMALLEST_SHARE = 1e-9
"""Where a range begins at 0 and excludes it, numbers from this share of its top are drawn."""


def numbers(fact: Fact) -> st.SearchStrategy[float]:
    """Even in log over the field's range, its ends and 0 (where allowed) more often than chance has it."""
    low, high = fact.lower, fact.upper
    bottom = low if low > 0.0 else high * SMALLEST_SHARE
    between = st.floats(0.0, 1.0).map(lambda x: min(max(bottom * (high / bottom) ** x, bottom), high))
    ends = [high, bottom] if fact.lower_excluded or low > 0.0 else [high, low]
    return st.one_of(st.sampled_from(ends), between)


@st.composite
def records(draw: st.DrawFn, kind: type[Record]) -> Record:
    """A record; half of its lengths are of one size, within a factor of 30: most others are refused.

    Half of the records have no field that has a default, such as an etch or a mask.
    """
    fields: dict[str, object] = {}
    plain = draw(st.booleans())
    size_m = 10.0 ** draw(st.floats(-6.0, -2.0))
    for fact in facts_of(kind):
        if plain and fact.default is not msgspec.NODEFAULT and issubclass(kind, RunRecord):
            continue
        if fact.lower is not None and fact.upper is not None:
            fields[fact.name] = draw(numbers(fact))
        elif fact.name == "name" or fact.section:
            fields[fact.name] = "x"
        if fact.unit == "m" and draw(st.booleans()):
            fields[fact.name] = min(max(size_m * 30.0 ** draw(st.floats(-1.0, 1.0)), fact.lower), fact.upper)
    return kind(**fields)


def parts() -> st.SearchStrategy[Parts]:
    rough = st.one_of(st.just(Smooth()), records(Hammerstad), records(Huray))
    foils = st.builds(lambda foil, on: Foil(name="x", conductivity_s_per_m=foil, roughness=on),
                      st.floats(1e5, 1e8), rough)  # fmt: skip
    dielectrics = records(Dielectric)
    return st.builds(
        lambda one, other, foil: Parts.of(
            {"dielectric": one, "upper_dielectric": other, "mask_dielectric": other, "foil": foil}
        ),
        dielectrics, dielectrics, foils,
    )  # fmt: skip


@pytest.mark.parametrize("kind", PASSIVE_KINDS, ids=lambda kind: kind.__name__)
@settings(max_examples=15)
@given(data=st.data())
def test_any_allowed_part_is_finite_and_passive_without_a_warning(kind, data):
    record, entries = data.draw(records(kind)), data.draw(parts())
    if record.problems() or any(entry.problems() for _, entry in entries.by_field):
        event("refused")
        return
    event("computed")
    if isinstance(record, RunRecord):
        length_m = data.draw(st.sampled_from([1e-6, 0.1, 100.0]))
        element = line(record.line_constants(F_HZ, entries), length_m)
    else:
        element = record.chain_matrix(F_HZ, entries)
    for two_port in (element, cascade(element, element)):
        s = np.moveaxis(np.array(s_parameters(two_port)).reshape(2, 2, -1), -1, 0)
        assert np.all(np.isfinite(s))
        assert np.linalg.svd(s, compute_uv=False).max() <= 1.0 + 1e-9
    for caution in (*record.cautions(entries, float(F_HZ[-1])), *record.remarks(entries)):
        assert not any(word in caution for word in ("nan", "inf"))
    if isinstance(record, ComponentRecord):
        assert math.isfinite(record.flight_time_s(entries))
        assert (record.line_impedance_ohm(entries) or 1.0) > 0.0
        assert (record.notch_hz(entries) or 1.0) > 0.0
