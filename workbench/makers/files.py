"""From files to models: those of an .ami file with its library, or those that an .ibs file names for this platform."""

import sys
from collections.abc import Mapping
from pathlib import Path

from workbench.errors import ModelError
from workbench.makers.ami import AmiFile
from workbench.makers.ibs import belonging, read_ibs
from workbench.makers.parameter_string import chosen_of, chosen_values
from workbench.makers.platforms import here
from workbench.makers.trust import Candidate, Kept, candidate
from workbench.makers.values import CornerName
from workbench.parts.model_use import ModelUse, ModelValue
from workbench.wording import any_of, quoted, quoted_path


def candidates_of(path: Path, library: Path | None = None) -> list[Candidate]:
    """The models of a file.

    Args:
        path: an .ami file, or an .ibs file.
        library: an .ami file's library; None for the one of the same name beside it.

    Raises:
        ModelError: a file can't be read, or none is for this platform.
    """
    if path.suffix.casefold() != ".ibs":
        return [candidate(path, library or library_beside(path))]
    ibs, own = read_ibs(path), here()
    system = {"macos": "darwin"}.get(own.system.casefold(), own.system.casefold())
    lines = {(line.ami, line.library) for _, line in belonging(ibs, system, str(own.bits))}
    if not lines:
        raise ModelError(
            f"{quoted_path(path)} names no library for {own}; it has "
            f"{any_of(line.platform for _, line in ibs.executables) or 'none at all'}"
        )
    maker = next((part.maker for part in ibs.components), "")
    return [candidate(path.parent / ami, path.parent / file, maker=maker) for ami, file in sorted(lines)]


def library_beside(path: Path) -> Path:
    """The library of the same name in the same folder.

    Raises:
        ModelError: there is none.
    """
    ending = {"win32": ".dll", "darwin": ".dylib"}.get(sys.platform, ".so")
    beside = path.with_suffix(ending)
    if not beside.exists():
        raise ModelError(
            f"there is no {quoted(beside.name)} beside {quoted(path.name)}; name its library with --library"
        )
    return beside


def use_of(model: Candidate, texts: Mapping[str, str], corner: CornerName = "typ") -> ModelUse:
    """A model as a board uses it.

    Args:
        model: the model.
        texts: parameters that are set otherwise than the file has them, by path ("taps/-1").
        corner: whose values hold where nothing is set.

    Raises:
        ModelError: a parameter that the model does not have, or a value that it does not allow.
    """
    return use_of_files(model.kept, model.ami, texts, corner)


def use_of_files(kept: Kept, ami: AmiFile, texts: Mapping[str, str], corner: CornerName = "typ") -> ModelUse:
    """As `use_of`, of files whose hashes are known.

    Args:
        kept: their names and hashes.
        ami: the parameter file.
        texts, corner: as there.

    Raises:
        ModelError: a parameter that the model does not have, or a value that it does not allow.
    """
    chosen_values(ami, chosen_of(ami, texts), corner)
    return ModelUse(
        model=kept.root, maker=kept.maker, library=kept.library, library_sha256=kept.library_sha256,
        ami_sha256=kept.ami_sha256, corner=corner,
        parameters=tuple(ModelValue(parameter=name, value=value) for name, value in texts.items()),
    )  # fmt: skip
