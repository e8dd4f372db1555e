"""Which libraries this user trusts: their bytes, by SHA-256, kept in a folder of the user's.

Trust is never part of a board: a board from a stranger must not bring it along. What is kept is a copy, so that what
was trusted is what runs, wherever the maker's files are moved; a copy whose bytes no longer have their hash is not
trusted.
"""

import hashlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import msgspec

from workbench.errors import ModelError, ModelRunError
from workbench.makers.ami import AmiFile, ami_of_bytes
from workbench.makers.session import Library
from workbench.wording import quoted, quoted_path

LARGEST_LIBRARY = 2**29
PARAMETERS, RECORD = "parameters.ami", "trusted.json"


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """The record beside a trusted library's copy.

    Attributes:
        root: the model's own name, from its parameter file.
        library: the library's file name.
        library_sha256, ami_sha256: of the two files, hexadecimal.
        ami: the parameter file's name.
        size: of the library, bytes.
        maker: as the .ibs file has it; "" where that was not read.
        supporting: (file name, SHA-256) of what comes with it.
    """

    root: str
    library: str
    library_sha256: str
    ami: str
    ami_sha256: str
    size: int
    maker: str = ""
    supporting: tuple[tuple[str, str], ...] = ()


class Candidate(NamedTuple):
    """A model that may be trusted: its parameters, its library's bytes, its maker."""

    ami: AmiFile
    ami_data: bytes
    library: Library
    maker: str

    @property
    def kept(self) -> Kept:
        """What would be kept about it."""
        return Kept(
            root=self.ami.root,
            library=self.library.name,
            library_sha256=sha256(self.library.data),
            ami=self.ami.source,
            ami_sha256=self.ami.sha256,
            size=len(self.library.data),
            maker=self.maker,
            supporting=tuple((name, sha256(data)) for name, data in self.library.supporting),
        )


class Trusted(NamedTuple):
    """A trusted model, ready to be run."""

    kept: Kept
    ami: AmiFile
    library: Library


def sha256(data: bytes) -> str:
    """SHA-256 of bytes, hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def candidate(ami_path: Path, library_path: Path, *, maker: str = "") -> Candidate:
    """A model from its two files, with the supporting files that the first one names.

    Args:
        ami_path: the parameter file.
        library_path: the library.
        maker: as the .ibs file has it.

    Raises:
        ModelError: a file can't be read, is too large, or is none.
    """
    ami_data = _bytes_of(ami_path)
    ami = ami_of_bytes(ami_data, ami_path.name)
    supporting = tuple((name, _bytes_of(ami_path.parent / name)) for name in _supporting(ami))
    return Candidate(ami, ami_data, Library(library_path.name, _bytes_of(library_path), supporting), maker)


def _supporting(ami: AmiFile) -> Iterator[str]:
    known = ami.reserved("Supporting_Files")
    for row in known.format.rows if known is not None and known.format is not None else ():
        for name in row:
            if isinstance(name, str) and name.strip():
                parts = name.replace("\\", "/").split("/")
                if not parts[0] or ".." in parts or ":" in parts[0]:
                    raise ModelError(f"{ami.source}: the supporting file {quoted(name)} leaves the model's folder")
                yield "/".join(parts)


def _bytes_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_LIBRARY:
            raise ModelError(f"{quoted_path(path)} is larger than {LARGEST_LIBRARY // 2**20} MiB; check the name")
        return path.read_bytes()
    except OSError as error:
        raise ModelError(f"{quoted_path(path)} can't be read: {error.strerror or error}; check the name") from error


def trust_folder() -> Path:
    """Where this user's trusted models are kept."""
    import platformdirs  # noqa: PLC0415 - a board without models needs none

    return platformdirs.user_data_path("link-margin-workbench", appauthor=False) / "models"


class Trust:
    """The models that a user trusts.

    Args:
        folder: where they are kept; None for the user's own.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder

    @property
    def folder(self) -> Path:
        """Where they are kept."""
        return self._folder if self._folder is not None else trust_folder()

    def add(self, model: Candidate) -> Kept:
        """Trust a model's bytes from now on.

        Raises:
            ModelError: the folder can't be written.
        """
        kept, target = model.kept, self._place(model.kept.library_sha256, model.ami.sha256)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(dir=self.folder, ignore_cleanup_errors=True) as own:
                new = Path(own) / "new"
                for name, data in ((model.library.name, model.library.data), *model.library.supporting):
                    place = new / "files" / name
                    place.parent.mkdir(parents=True, exist_ok=True)
                    place.write_bytes(data)
                (new / PARAMETERS).write_bytes(model.ami_data)
                (new / RECORD).write_bytes(msgspec.json.encode(kept))
                if target.exists():
                    shutil.rmtree(target)
                new.replace(target)
        except OSError as error:
            raise ModelError(
                f"{quoted_path(self.folder)} can't be written: {error.strerror or error}; trust is kept there"
            ) from error
        return kept

    def remove(self, library_sha256: str) -> int:
        """Trust a library no more; returns how many entries that were."""
        gone = [kept for kept in self.all() if kept.library_sha256 == library_sha256]
        for kept in gone:
            shutil.rmtree(self._place(kept.library_sha256, kept.ami_sha256), ignore_errors=True)
        return len(gone)

    def all(self) -> tuple[Kept, ...]:
        """Every entry, by the model's name; damaged ones are left out."""
        found = []
        for record in self.folder.glob(f"*/{RECORD}") if self.folder.is_dir() else ():
            kept = _record(record)
            if kept is not None:
                found.append(kept)
        return tuple(sorted(found, key=lambda kept: (kept.root, kept.library_sha256)))

    def stamp(self, library_sha256: str, ami_sha256: str) -> int:
        """When a model was trusted, a number that changes whenever that does; 0 where it is not trusted."""
        try:
            return (self._place(library_sha256, ami_sha256) / RECORD).stat().st_mtime_ns
        except OSError:
            return 0

    def find(self, name: str, library_sha256: str, ami_sha256: str) -> Trusted:
        """A model that is to be run, its bytes as they were trusted.

        Args:
            name: what sentences call it.
            library_sha256: of its library, hexadecimal.
            ami_sha256: of its parameter file.

        Raises:
            ModelRunError: it is not trusted here, or its copy was changed.
        """
        place = self._place(library_sha256, ami_sha256)
        kept = _record(place / RECORD)
        if kept is None:
            raise _untrusted(name, library_sha256, "is not trusted on this computer")
        try:
            ami_data = (place / PARAMETERS).read_bytes()
            files = [(file, (place / "files" / file).read_bytes()) for file in (kept.library, *dict(kept.supporting))]
        except OSError as error:
            raise _untrusted(name, library_sha256, f"can't be read ({error.strerror or error})") from error
        hashes = [sha256(data) for _, data in files]
        if hashes != [library_sha256, *dict(kept.supporting).values()] or sha256(ami_data) != ami_sha256:
            raise _untrusted(name, library_sha256, "was changed since it was trusted")
        return Trusted(kept, ami_of_bytes(ami_data, kept.ami), Library(kept.library, files[0][1], tuple(files[1:])))

    def _place(self, library_sha256: str, ami_sha256: str) -> Path:
        safe = all(mark in "0123456789abcdef" for mark in library_sha256 + ami_sha256)
        return self.folder / (f"{library_sha256[:64]}-{ami_sha256[:16]}" if safe else "none")


def _record(path: Path) -> Kept | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Kept)
    except (OSError, msgspec.DecodeError):
        return None


def _untrusted(name: str, library_sha256: str, how: str) -> ModelRunError:
    return ModelRunError(
        "untrusted",
        f"model {quoted(name)} (SHA-256 {library_sha256[:12]}…) {how}; trust its files with: link-margin model trust",
    )
