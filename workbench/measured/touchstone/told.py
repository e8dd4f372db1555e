"""What the commands for networks tell: of a file's quality, of what came into a board, of what was written."""

import msgspec

from workbench.measured.touchstone.quality import QualityCard
from workbench.parts.network import PortPair, Repair


class NetworkQuality(msgspec.Struct, frozen=True, kw_only=True):
    """What `quality` tells of a file.

    Attributes:
        source, source_sha256: the file's name and the SHA-256 of its bytes.
        reference_ohm: the reference of each port, ohm.
        notes: sentences on how it was read.
        quality: the card.
    """

    source: str
    source_sha256: str
    reference_ohm: tuple[float, ...]
    notes: tuple[str, ...]
    quality: QualityCard


class ImportedNetwork(msgspec.Struct, frozen=True, kw_only=True):
    """A network as it came into a board.

    Attributes:
        name: in the catalogue.
        source, source_sha256: the file's name and the SHA-256 of its bytes.
        reference_ohm: the reference of each port in the file, ohm.
        ports_are: "single-ended" or "differential".
        pairs: its ways through.
        sure: whether the ports' meaning is beyond doubt.
        reasons: why they are taken so, in sentences.
        notes: sentences on how it was read.
        repairs: what was repaired.
        quality: its card after that.
    """

    name: str
    source: str
    source_sha256: str
    reference_ohm: tuple[float, ...]
    ports_are: str
    pairs: tuple[PortPair, ...]
    sure: bool
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    repairs: tuple[Repair, ...]
    quality: QualityCard


class NetworkImport(msgspec.Struct, frozen=True, kw_only=True):
    """What `import` did: the board file that was written, and the network in it."""

    board: str
    network: ImportedNetwork


class ExportSummary(msgspec.Struct, frozen=True, kw_only=True):
    """What `export` wrote: the file, its ports and points, the band in Hz, and the comments in it."""

    file: str
    ports: int
    points: int
    low_hz: float
    high_hz: float
    comments: tuple[str, ...]
