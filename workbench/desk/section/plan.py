"""What the picture of a cross-section consists of, in m: shapes and handles. No widget."""

from typing import Literal, NamedTuple

from workbench.facts import Fact, fact_of
from workbench.parts.record import RunRecord
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.outline import mask_surface

Kind = Literal["plane", "lower", "upper", "mask", "copper"]
_STEP_M = 1e-7
"""What a drag is rounded to, m: a tenth of a micrometre."""


class Shape(NamedTuple):
    """A filled outline, x + j y in m, the lower plane at y = 0."""

    kind: Kind
    points: tuple[complex, ...]


class Handle(NamedTuple):
    """Where a dimension is taken hold of.

    Attributes:
        field: the record's field.
        at: place, m.
        along: unit vector of the drag.
        gain: by how much the value grows per metre along it.
    """

    field: str
    at: complex
    along: complex
    gain: float


class Picture(NamedTuple):
    """Shapes from back to front, handles, and what is to be in sight: left, bottom, right, top, m."""

    shapes: tuple[Shape, ...]
    handles: tuple[Handle, ...]
    bounds: tuple[float, float, float, float]


def picture_of(record: RunRecord, section: CrossSection) -> Picture:
    """The picture of a record by its cross-section."""
    top = section.spacing_m or section.foot_m + 2.5 * section.thickness_m + 0.5 * section.foot_m
    plane = 0.06 * top
    side = 0.5 * section.gap_m + section.width_m + max(section.foot_m, 0.5 * section.width_m)
    roof = top + (plane if section.spacing_m else 0.0)
    shapes = [
        Shape("lower", _box(-side, 0.0, side, section.foot_m)),
        Shape("plane", _box(-side, -plane, side, 0.0)),
    ]
    if section.spacing_m is not None:
        shapes.append(Shape("upper", _box(-side, section.foot_m, side, section.spacing_m)))
        shapes.append(Shape("plane", _box(-side, section.spacing_m, side, roof)))
    if section.mask is not None:
        surface = mask_surface(section, section.mask)
        inside = [complex(min(max(point.real, -side), side), point.imag) for point in surface]
        shapes.append(Shape("mask", (complex(-side, section.foot_m), *inside, complex(side, section.foot_m))))
    shapes += [Shape("copper", _trapezoid(section, trace.left_m, trace.width_m)) for trace in section.traces()]
    offered = tuple(handle for handle in _handles(section, side) if hasattr(record, handle.field))
    return Picture(tuple(shapes), offered, (-side, -plane, side, roof))


def dragged(record: RunRecord, handle: Handle, start_m: float, by: complex) -> float:
    """The value (m) that a handle gives after a drag from `start_m` (m) by a vector (m), inside the field's range."""
    along = (by * handle.along.conjugate()).real
    fact = fact_of(type(record), handle.field)
    value = round((start_m + handle.gain * along) / _STEP_M) * _STEP_M
    return within(fact, round(value, 10))


def within(fact: Fact, value: float) -> float:
    """A value moved into a field's range."""
    lower = fact.lower if fact.lower is not None else value
    upper = fact.upper if fact.upper is not None else value
    return min(max(value, lower), upper)


def _handles(section: CrossSection, side: float) -> tuple[Handle, ...]:
    foot, top = section.foot_m, section.foot_m + section.thickness_m
    inner, outer = 0.5 * section.gap_m, 0.5 * section.gap_m + section.width_m
    middle = 0.5 * (inner + outer)
    mask = section.mask
    found = [
        Handle("gap_m", complex(inner, foot + 0.3 * section.thickness_m), 1.0, 2.0),
        Handle("width_m", complex(outer, foot), 1.0, 1.0),
        Handle("thickness_m", complex(middle, top), 1j, 1.0),
        Handle("etch_m", complex(outer - section.inset_m, top), 1.0, -2.0),
        Handle("height_m", complex(-middle, 0.0), 1j, -1.0),
        Handle("below_m", complex(-middle, 0.0), 1j, -1.0),
    ]
    if section.spacing_m is not None:
        found.append(Handle("above_m", complex(-middle, section.spacing_m), 1j, 1.0))
    if mask is not None:
        found.append(Handle("mask_m", complex(0.5 * (outer + side), foot + mask.on_laminate_m), 1j, 1.0))
        found.append(Handle("mask_on_trace_m", complex(-middle, top + mask.on_trace_m), 1j, 1.0))
    return tuple(found)


def _box(left: float, bottom: float, right: float, top: float) -> tuple[complex, ...]:
    return complex(left, bottom), complex(right, bottom), complex(right, top), complex(left, top)


def _trapezoid(section: CrossSection, left: float, width: float) -> tuple[complex, ...]:
    foot, top, inset = section.foot_m, section.foot_m + section.thickness_m, section.inset_m
    return (
        complex(left, foot), complex(left + width, foot), complex(left + width - inset, top), complex(left + inset, top)
    )  # fmt: skip
