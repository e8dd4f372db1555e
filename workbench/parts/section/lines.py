"""What the kinds of line that have a cross-section share: their optional fields, and what is said of a solved one."""

from collections.abc import Sequence
from typing import Annotated

from workbench.facts import quantity
from workbench.parts.section.figures import differential
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved

Etch = Annotated[
    float,
    quantity("m", "Etch", "By how much a trace's top is narrower than its foot, both sides together.", ge=0.0, le=1e-2),
]


def remark_on(section: CrossSection, plain: CrossSection, formula_ohm: float, features: Sequence[str]) -> str:
    """What a solved line says of the published formula that does not serve it.

    Args:
        section: as it is solved.
        plain: the same without what the formula does not know.
        formula_ohm: differential impedance by the formula, ohm.
        features: what the formula does not know, as words.
    """
    ohm, without = (differential(solved(each)).impedance_ohm for each in (section, plain))
    return (
        f"{ohm:.1f} ohm differential, solved with {_joined(features)}; the published formula for the plain section "
        f"says {formula_ohm:.1f} ohm ({100.0 * (formula_ohm / without - 1.0):+z.1f} % from the plain section solved)"
    )


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
