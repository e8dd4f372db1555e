"""What a cross-section is made of: traces, layers of dielectric, mask, guards. Length unit m."""

from typing import NamedTuple

import msgspec

MOST_PAIRS = 4
LARGEST_RATIO = 1e4
SIDE_GROUND_REACH = 8.0
"""Width of the grounded copper beside the traces, in heights over the plane plus its distance: then it is endless."""


class Layer(NamedTuple):
    """A layer of dielectric: its height in m, and which of the section's permittivities it has."""

    height_m: float
    material: int = 0


class Mask(NamedTuple):
    """Solder mask: thickness in m on the laminate and on the traces, and which permittivity it has."""

    on_laminate_m: float
    on_trace_m: float
    material: int = 1


class Trace(NamedTuple):
    """A conductor of the layer: left end and width of its foot in m; grounded or one of the signals."""

    left_m: float
    width_m: float
    grounded: bool = False


class Fault(NamedTuple):
    """What is wrong with a section: the field to change, and a sentence."""

    field: str
    sentence: str


class CrossSection(msgspec.Struct, frozen=True, kw_only=True):
    """One to four equal pairs side by side on a layer, over one plane or between two.

    Attributes:
        width_m: width of each trace's foot, m.
        gap_m: distance between the two feet of a pair, m.
        thickness_m: thickness of the traces, m.
        etch_m: by how much a trace's top is narrower than its foot, both sides together, m.
        below: layers from the plane up to the traces' feet.
        above: layers from the feet up to the upper plane; none: an outer layer, with air above.
        permittivities: relative permittivity of each material that layers and mask name by number.
        mask: solder mask of an outer layer.
        pairs: how many pairs lie side by side.
        between_m: distance from pair to pair, foot to foot, m; without meaning for one pair.
        guard_m: width of a grounded trace in the middle between pairs, m; 0: none.
        side_m: distance from the outermost feet to grounded copper on either side, m; 0: none.
    """

    width_m: float
    gap_m: float
    thickness_m: float
    etch_m: float = 0.0
    below: tuple[Layer, ...]
    above: tuple[Layer, ...] = ()
    permittivities: tuple[float, ...]
    mask: Mask | None = None
    pairs: int = 1
    between_m: float = 0.0
    guard_m: float = 0.0
    side_m: float = 0.0

    @property
    def foot_m(self) -> float:
        """Height of the traces' feet over the lower plane, m."""
        return sum(layer.height_m for layer in self.below)

    @property
    def _above_m(self) -> float:
        return sum(layer.height_m for layer in self.above)

    @property
    def spacing_m(self) -> float | None:
        """Distance between the planes, m; None over one plane."""
        return self.foot_m + self._above_m if self.above else None

    @property
    def inset_m(self) -> float:
        """By how much each side of a trace leans inward from foot to top, m."""
        return 0.5 * self.etch_m

    @property
    def least_m(self) -> float:
        """The smallest distance that the field has to be followed over, m."""
        lengths = [self.thickness_m, self.gap_m, self.width_m - self.etch_m]
        lengths += [layer.height_m for layer in (*self.below, *self.above)]
        if self.above:
            lengths.append(self._above_m - self.thickness_m)
        if self.pairs > 1:
            lengths.append(0.5 * (self.between_m - self.guard_m) if self.guard_m else self.between_m)
        if self.side_m:
            lengths.append(self.side_m)
        return min(lengths)

    def traces(self) -> tuple[Trace, ...]:
        """Every conductor of the layer from left to right; the pairs stand around x = 0."""
        pair_m = 2.0 * self.width_m + self.gap_m
        at_m = -0.5 * (self.pairs * pair_m + (self.pairs - 1) * self.between_m)
        side_m = SIDE_GROUND_REACH * (self.foot_m + self.side_m)
        found = [Trace(at_m - self.side_m - side_m, side_m, grounded=True)] if self.side_m else []
        for number in range(self.pairs):
            if number and self.guard_m:
                found.append(Trace(at_m - 0.5 * (self.between_m + self.guard_m), self.guard_m, grounded=True))
            found += [Trace(at_m, self.width_m), Trace(at_m + self.width_m + self.gap_m, self.width_m)]
            at_m += pair_m + self.between_m
        if self.side_m:
            found.append(Trace(at_m - self.between_m + self.side_m, side_m, grounded=True))
        return tuple(found)

    @property
    def _most_m(self) -> float:
        lengths = [self.width_m, self.gap_m, self.thickness_m, self.foot_m, self.between_m, self.guard_m, self.side_m]
        on_top = max(self.mask.on_laminate_m, self.mask.on_trace_m) if self.mask is not None else 0.0
        return max(*lengths, self.spacing_m or 0.0, on_top)

    @property
    def _thin_mask(self) -> bool:
        if self.mask is None:
            return False
        return LARGEST_RATIO * min(self.mask.on_laminate_m, self.mask.on_trace_m) < self._most_m

    def problem(self) -> Fault | None:
        """Why these dimensions are no section, or none that can be solved; None where all is well."""
        guarded = self.guard_m > 0.0 and self.pairs > 1
        for wrong, field, sentence in (
            (not 1 <= self.pairs <= MOST_PAIRS, "pairs", f"one to {MOST_PAIRS} pairs can be solved together"),
            (self.etch_m >= 0.95 * self.width_m, "etch_m", "the sides meet: the etch takes all of the width"),
            (self.etch_m < 0.0, "etch_m", "the etch is negative"),
            (self.inset_m > 2.0 * self.thickness_m, "etch_m", "the sides lean more than those of any etched copper"),
            (self.above and self.thickness_m >= 0.98 * self._above_m, "thickness_m", "the traces reach the plane"),
            (guarded and self.guard_m >= 0.98 * self.between_m, "guard_m", "the guard fills the gap"),
            (guarded and self.guard_m <= self.etch_m / 0.95, "guard_m", "the guard is narrower than the etch"),
            (self.pairs > 1 and self.between_m <= 0.0, "between_m", "neighbouring pairs need a gap between them"),
            (self.mask is not None and self.above, "mask", "an inner layer has no solder mask"),
            (self._thin_mask, "mask_m", f"the mask is thinner than one part in {LARGEST_RATIO:g} of the section"),
            (self._most_m > LARGEST_RATIO * self.least_m, "width_m",
             f"the dimensions differ by more than a factor of {LARGEST_RATIO:g}"),
        ):  # fmt: skip
            if wrong:
                return Fault(field, sentence)
        return None
