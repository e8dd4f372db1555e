"""How neighbouring pairs couple, at a gap."""

from typing import Any

import msgspec

from workbench.parts.section.figures import Coupling, coupling
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved


def beside(section: CrossSection, *, gap_m: float, guard_m: float = 0.0, pairs: int = 2) -> CrossSection:
    """The section with more of the same pairs beside one another.

    Args:
        section: of one pair.
        gap_m: distance from pair to pair, foot to foot, m.
        guard_m: width of a grounded trace in the middle of it, m; 0 for none.
        pairs: how many in all.
    """
    changes: dict[str, Any] = {"pairs": pairs, "between_m": gap_m, "guard_m": guard_m}
    return msgspec.structs.replace(section, **changes)


def coupling_at(section: CrossSection, *, gap_m: float, guard_m: float = 0.0, away: int = 1) -> Coupling:
    """Coupling of a pair to its neighbour (`away` 1), or to the next but one (2) or two (3); solved once and kept.

    A guard counts as ideally grounded along its length, which stitching only approaches.

    Args:
        section: of one pair.
        gap_m: distance from pair to pair, foot to foot, m.
        guard_m: width of a grounded trace in the middle of each gap, m; 0 for none.
        away: how many places further the other pair is; those between are solved with them.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return coupling(solved(beside(section, gap_m=gap_m, guard_m=guard_m, pairs=away + 1)), 0, away)
