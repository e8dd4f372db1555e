"""Cross-sections that the solver's tests share, in m; all invented."""

import msgspec

from workbench.parts.section.geometry import CrossSection, Layer, Mask

UM = 1e-6
replace = msgspec.structs.replace

OUTER = CrossSection(
    width_m=130 * UM, gap_m=170 * UM, thickness_m=40 * UM, below=(Layer(100 * UM),), permittivities=(4.0,)
)
MASKED = replace(OUTER, permittivities=(4.0, 3.5), mask=Mask(25 * UM, 15 * UM), etch_m=20 * UM)
INNER = CrossSection(
    width_m=110 * UM, gap_m=160 * UM, thickness_m=17 * UM, below=(Layer(150 * UM),), above=(Layer(167 * UM),),
    permittivities=(3.9,),
)  # fmt: skip
TWO_RESINS = replace(INNER, etch_m=12 * UM, above=(Layer(167 * UM, 1),), permittivities=(3.9, 3.5))
POCKET = replace(
    INNER, etch_m=12 * UM, above=(Layer(17 * UM, 2), Layer(150 * UM, 1)), permittivities=(3.9, 3.5, 2.8)
)
NARROW = replace(MASKED, gap_m=35 * UM)
GROUND_BESIDE = replace(MASKED, side_m=200 * UM)

SINGLE = {
    "outer": OUTER, "masked": MASKED, "inner": INNER, "two resins": TWO_RESINS, "resin pocket": POCKET,
    "merged mask": NARROW, "side ground": GROUND_BESIDE,
}  # fmt: skip
SEVERAL = {
    "two outer": replace(OUTER, pairs=2, between_m=400 * UM),
    "two masked": replace(MASKED, pairs=2, between_m=400 * UM),
    "three inner": replace(TWO_RESINS, pairs=3, between_m=300 * UM),
    "four masked": replace(MASKED, pairs=4, between_m=400 * UM),
    "guarded": replace(OUTER, pairs=2, between_m=450 * UM, guard_m=150 * UM),
}  # fmt: skip
SECTIONS = SINGLE | SEVERAL
