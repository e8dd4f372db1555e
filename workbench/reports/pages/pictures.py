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
