"""The eye's colours: a table from probability density to ink that is even to the eye, light and dark.

Lightness L* of CIELAB (CIE 15, Colorimetry) runs in equal steps from the sheet to the densest colour, while hue and
chroma change slowly; where a colour lies outside sRGB (IEC 61966-2-1) its chroma is lowered, never its lightness.
"""

from functools import lru_cache

import numpy as np

from workbench.arrays import Bytes, Floats
from workbench.desk.widgets.theme import Theme

STEPS = 256
DECADES = 6.0
"""How far below the densest place the palest colour stands."""

_FLOOR = 1e-30
_TINTED = 0.1
_CHROMAS = 41
"""Of so many chromas, from none to what is wished, the richest that exists is taken."""
_WHITE = np.array([0.95047, 1.0, 1.08883])
_TO_RGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
_DENSE = {"light": (34.0, 40.0, 282.0), "dark": (88.0, 40.0, 98.0)}
"""Lightness, chroma and hue (degrees) of the densest colour; the palest is the sheet itself."""
_MIDDLE = {"light": (30.0, 232.0), "dark": (38.0, 232.0)}
"""Chroma and hue halfway."""


@lru_cache(maxsize=4)
def density_table(theme: Theme) -> Bytes:
    """Colours from no density to the densest, shape (256, 4): red, green, blue, alpha."""
    start = _lightness(theme.sheet)
    end, chroma, hue = _DENSE[theme.name]
    middle_chroma, middle_hue = _MIDDLE[theme.name]
    way = np.linspace(0.0, 1.0, STEPS)
    chromas = np.interp(way, (0.0, 0.45, 1.0), (0.0, middle_chroma, chroma))
    hues = np.radians(np.interp(way, (0.0, 0.35, 1.0), (middle_hue, middle_hue, hue)))
    lightness = start + (end - start) * way
    table = np.full((STEPS, 4), 255, np.uint8)
    # The sheet's own tint goes over into the scale, so that the picture has no frame where there is no density.
    sheet = np.array(_channels(theme.sheet))
    tint = (sheet - _colours(lightness[:1], chromas[:1], hues[:1])) * np.clip(1.0 - way / _TINTED, 0.0, 1.0)[:, None]
    table[:, :3] = np.round(255.0 * np.clip(_colours(lightness, chromas, hues) + tint, 0.0, 1.0))
    return table


def shades(density: Floats) -> Bytes:
    """Places in the table for a density in any unit: `DECADES` on a log scale below its largest value; same shape."""
    peak = float(density.max())
    if not peak > 0.0:
        return np.zeros(density.shape, np.uint8)
    level = 1.0 + np.log10(np.maximum(density / peak, _FLOOR)) / DECADES
    return np.asarray(np.round(np.clip(level, 0.0, 1.0) * (STEPS - 1))).astype(np.uint8)


def _channels(colour: str) -> list[float]:
    return [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]


def _lightness(colour: str) -> float:
    rgb = np.array(_channels(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(116.0 * np.cbrt(linear @ np.array([0.2126, 0.7152, 0.0722])) - 16.0)


def _colours(lightness: Floats, chroma: Floats, hue: Floats) -> Floats:
    """sRGB from 0 to 1, shape (n, 3) for three of shape (n,); each chroma lowered until the colour exists."""
    shares = np.linspace(0.0, 1.0, _CHROMAS)[:, None]
    every = _linear_rgb(lightness, shares * chroma, hue)
    exists = (every.min(axis=-1) >= 0.0) & (every.max(axis=-1) <= 1.0)
    exists[0] = True  # grey
    richest = _CHROMAS - 1 - np.argmax(exists[::-1], axis=0)
    linear = np.clip(every[richest, np.arange(lightness.size)], 0.0, 1.0)
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055))


def _linear_rgb(lightness: Floats, chroma: Floats, hue: Floats) -> Floats:
    """Linear red, green and blue on a last axis, for chromas of shape (m, n)."""
    middle = np.broadcast_to((lightness + 16.0) / 116.0, chroma.shape)
    f = np.stack([middle + chroma * np.cos(hue) / 500.0, middle, middle - chroma * np.sin(hue) / 200.0], axis=-1)
    xyz = _WHITE * np.where(f > 6.0 / 29.0, f**3, 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0))
    return np.asarray(xyz @ _TO_RGB.T)
