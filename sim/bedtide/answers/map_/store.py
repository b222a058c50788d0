"""The store of a map: figures of every place, written chunk by chunk, so that none is lost.

A zarr store as xarray and CF have it. A chunk counts as done once ``done`` says so, which is
written last; what was asked stands in the attribute `_MARK`, and a store is only gone on with where
that is the same.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bedtide.errors import FileError
from bedtide.files import system_errors

if TYPE_CHECKING:
    import xarray as xr

Asked = Mapping[str, Mapping[str, str]]

_MARK: Final = "bedtide_map"
_WHOLE: Final = 256 << 20  # bytes; of larger files size and time of change are noted, not content


def opened(
    path: Path, asked: Asked, empty: xr.Dataset, *, chunk: int, anew: bool
) -> tuple[int, list[int]]:
    """Places in a chunk, and first places of the chunks that are still to do; makes the store.

    `empty` has all variables of the whole map. A store of another question is refused, or with
    `anew` replaced; what is no store of a map is refused always.
    """
    size = empty.sizes["place"]
    if path.exists():
        kept = _kept(path)
        different = [
            f"{group} {name}"
            for group in asked
            for name in dict.fromkeys([*kept["asked"].get(group, {}), *asked[group]])
            if kept["asked"].get(group, {}).get(name) != asked[group].get(name)
        ]
        if not different and not anew:
            done = _array(path, "done")[:] == 1
            chunk = int(kept["chunk"])
            return chunk, [at for at in range(0, size, chunk) if not done[at : at + chunk].all()]
        if not anew:
            raise FileError(
                str(path),
                f"it is of another question: different are {', '.join(different)}",
                expected="the same command as before, to carry on",
                hint="Choose another folder with --out, or begin anew with --anew; that drops the "
                "old figures",
            )
    _begin(path, asked, empty, chunk)
    return chunk, list(range(0, size, chunk))


def write_chunk(path: Path, first: int, figures: xr.Dataset) -> None:
    """Put the figures of a chunk into the store, and say last that they are there."""
    import zarr

    with system_errors(path):
        group: Any = zarr.open_group(str(path), mode="r+")
        last = first + figures.sizes["place"]
        for name, variable in figures.variables.items():
            if "place" in variable.dims:
                where = tuple(
                    slice(first, last) if dim == "place" else slice(None) for dim in variable.dims
                )
                group[name][where] = variable.to_numpy()
        group["done"][first:last] = 1


def read(path: Path) -> xr.Dataset:
    """All figures of a store."""
    import xarray as xr

    with xr.open_zarr(path, chunks=None) as lazy:
        found: xr.Dataset = lazy.load().drop_encoding()
    return found


def fingerprints(paths: Sequence[Path]) -> dict[str, str]:
    """What the weather files are known by: a checksum, of those over 256 MB size and time."""
    found = {}
    for path in paths:
        files = sorted(each for each in path.rglob("*") if each.is_file())
        for file in files if path.is_dir() else [path]:
            name = f"{path.name}/{file.relative_to(path)}" if path.is_dir() else path.name
            found[name] = _fingerprint(file)
    if len(found) > len(paths):  # of a folder one sum says enough
        whole = json.dumps(found, sort_keys=True).encode()
        return {", ".join(path.name for path in paths): hashlib.sha256(whole).hexdigest()}
    return found


def _fingerprint(file: Path) -> str:
    about = file.stat()
    if about.st_size > _WHOLE:
        return f"{about.st_size} bytes, {about.st_mtime_ns}"
    with file.open("rb") as opened_file:
        return hashlib.file_digest(opened_file, "sha256").hexdigest()


def _kept(path: Path) -> dict[str, Any]:
    """What a store says of itself; what is no store of a map, or no whole one, is refused."""
    try:
        attributes = json.loads((path / ".zattrs").read_text(encoding="utf-8"))
        kept = json.loads(attributes[_MARK])
        _array(path, "done")[:]
    except (OSError, KeyError, ValueError, TypeError):
        raise FileError(
            str(path),
            "it is there already and is no store that  bedtide map  wrote",
            expected="a folder without it",
            hint="Nothing was overwritten. Choose another folder with --out",
        ) from None
    found: dict[str, Any] = kept
    return found


def _array(path: Path, name: str) -> Any:
    import zarr

    group: Any = zarr.open_group(str(path), mode="r", use_consolidated=False)
    return group[name]


def _begin(path: Path, asked: Asked, empty: xr.Dataset, chunk: int) -> None:
    """A store with all variables and no figure, which is there whole or not at all."""
    import dask.array

    full: Any = dask.array.full  # its types are not given

    places = empty.sizes["place"]
    lazy = empty.assign(done=("place", np.zeros(places, dtype=np.int8), {"long_name": "done"}))
    encoding: dict[Any, dict[str, Any]] = {}
    for name, variable in lazy.variables.items():
        if "place" in variable.dims:
            sizes = tuple(min(chunk, lazy.sizes[d]) if d == "place" else lazy.sizes[d]
                          for d in variable.dims)  # fmt: skip
            encoding[name] = {"chunks": sizes}
            if variable.dtype != object:  # texts are written as they are, empty
                value = variable.to_numpy().flat[0]
                data = full(variable.shape, value, dtype=variable.dtype, chunks=sizes)
                lazy[name] = (variable.dims, data, variable.attrs)
    lazy.attrs |= {_MARK: json.dumps({"asked": asked, "chunk": chunk})}
    with system_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(dir=path.parent, prefix=".bedtide-"))
        try:
            lazy.to_zarr(
                beside / path.name, compute=False, zarr_format=2, consolidated=True,
                encoding=encoding,
            )  # fmt: skip
            if path.exists():
                os.rename(path, beside / "old")
            os.rename(beside / path.name, path)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
