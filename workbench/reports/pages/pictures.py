"""What a report shows of a lane: pictures as SVG documents, from whoever can draw."""

from typing import NamedTuple


class LanePictures(NamedTuple):
    """A lane's pictures, SVG documents in light colours; the eye's density also in dark ones.

    Attributes:
        lane: the lane's name.
        path: transmitter to receiver, true to length.
        frequency, pulse, eye, bathtub, impedance: the curves at the receiver.
        dark_eye: the eye for a dark page.
    """

    lane: str
    path: str
    frequency: str
    pulse: str
    eye: str
    bathtub: str
    impedance: str
    dark_eye: str


LEGENDS = {
    "path": "Transmitter to receiver, true to length; below each element its loss at Nyquist.",
    "frequency": "Solid: gain at the receiver. Dashed, pale: return loss of the last span, as the reflected level "
    "below 0 dB. Dashed upright: Nyquist. Bars and stepped lines: the interface's loss budget and channel limits; "
    "dashed where they are not applied.",
    "pulse": "Solid: response to one symbol of half the swing. Dots: its samples one unit interval apart, the large "
    "one the symbol's own. Bars: what they add to other symbols. Grey: zero.",
    "eye": "Colour: how often the signal is there. Lines: openings at bit error ratios, the profile's own in full "
    "ink, others paler. Thick outlines: the limits, and the mask where there is one. Dashed upright: the sampling "
    "instant. Dashed contour: "
    "without the lanes beside it.",
    "bathtub": "Solid: bit error ratio at the threshold over the sampling instant. Dashed level: the profile's bit "
    "error ratio. Bar: the width that its limit asks for.",
    "impedance": "Solid: impedance along the path, as a reflected step shows it. Grey uprights: where elements end. "
    "Dashed: the interface's nominal impedance.",
    "budget": "Each bar reaches from the margin gained in one order of the steps to that gained in the reverse order.",
}
"""What every line, bar and colour of a picture stands for."""
