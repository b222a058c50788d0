"""The only writer of files: a file is there whole or not at all, and an old one is never spoilt."""

from __future__ import annotations

import dataclasses
import errno
import hashlib
import json
import math
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bedtide.errors import FileError

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

_PREFIX = ".bedtide-"  # of what is not yet whole
_OLD = 86400.0  # s; what is older was left behind by a kill


def check_folder(folder: Path) -> None:
    """Find out that a folder can take files, or could be made, without making anything."""
    where = f"output folder {folder}"
    with system_errors(folder):
        nearest = next(each for each in (folder, *folder.parents) if each.exists())
    if not nearest.is_dir():
        problem = "it is a file" if nearest == folder else f"{nearest} is a file, not a folder"
        raise FileError(where, problem, "the name of a folder, there or new")
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise FileError(where, f"you may not write to {nearest}", hint="Choose another folder.")


def new_folder_check(folder: Path, names: list[str]) -> None:
    """Find out that none of the files is there yet and that the folder can take them."""
    check_folder(folder)
    *others, last = [name for name in names if (folder / name).exists()] or [""]
    if last:
        there = f"{', '.join(others)} and {last} are" if others else f"{last} is"
        hint = "Choose a new folder, or move the old files away."
        raise FileError(str(folder), f"{there} there already; nothing was written", hint=hint)


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a path beside `path`, with the same ending, that takes its place once it is whole.

    If anything goes wrong before, an interruption too, whatever stood at `path` stays as it was.
    """
    with system_errors(path):
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=_PREFIX, suffix=path.suffix)
        os.close(handle)
        temporary = Path(name)
        try:
            yield temporary
            _settle(temporary)
            os.replace(temporary, path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise


@contextmanager
def in_turn(path: Path) -> Iterator[None]:
    """Let one process of this user at a time read a file and write it anew; others wait."""
    from filelock import FileLock
    from platformdirs import user_cache_path

    name = hashlib.sha256(os.fsencode(path.resolve())).hexdigest()[:16]
    locks = user_cache_path("bedtide", appauthor=False) / "locks"  # a lock stays where it is
    with system_errors(locks):
        locks.mkdir(parents=True, exist_ok=True)
        held = FileLock(locks / f"{name}.lock").acquire()
    with held:
        yield


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8."""
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def write_json(path: Path, content: Any) -> None:
    """Write a summary or a mapping as JSON."""
    write_text(path, json_text(content))


def json_text(content: Any) -> str:
    """JSON text of a summary or a mapping, indented; NaN becomes null, which all readers take."""
    return json.dumps(plain(content), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """Plain values of a summary under the names of its fields, all the way down; NaN is None.

    A field that Python does not let be named so ends in an underscore, which goes; one whose
    default is None is left out where it is None, for it was not asked for.
    """
    if dataclasses.is_dataclass(value):
        found = {field: getattr(value, field.name) for field in dataclasses.fields(value)}
        return {
            field.name.rstrip("_"): plain(each)
            for field, each in found.items()
            if each is not None or field.default is dataclasses.MISSING
        }
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(each) for each in value]
    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def write_csv(path: Path, table: pd.DataFrame) -> None:
    """Write a table as CSV with a header, six digits a number; what is missing becomes empty."""
    texts = [name for name in table.columns if table[name].dtype.kind == "O"]
    table = table.assign(**{name: table[name].map(_cell) for name in texts})
    with replacing(path) as temporary:
        table.to_csv(
            temporary, index=False, float_format="%.6g", date_format="%Y-%m-%d", lineterminator="\n"
        )


def write_netcdf(path: Path, dataset: xr.Dataset) -> None:
    """Write a Dataset as NetCDF 4; lists of text among the attributes become lines of one text."""
    ready = dataset.copy()
    ready.attrs = {name: _attribute(value) for name, value in dataset.attrs.items()}
    encoding: dict[str, dict[str, Any]] = {}
    for name, variable in ready.variables.items():
        variable.attrs = {key: _attribute(value) for key, value in variable.attrs.items()}
        if variable.dtype.kind == "M":
            encoding[str(name)] = {"units": "days since 1970-01-01", "calendar": "standard"}
            if np.isnat(variable.to_numpy()).any():
                encoding[str(name)]["dtype"] = "float64"
        elif variable.dtype.kind == "f" and variable.ndim:
            encoding[str(name)] = {"zlib": True, "complevel": 3}
        elif variable.dtype == bool:
            encoding[str(name)] = {"dtype": "int8"}
    with replacing(path) as temporary:
        try:
            ready.to_netcdf(temporary, engine="netcdf4", format="NETCDF4", encoding=encoding)
        except (OSError, RuntimeError) as error:  # of a full disk the library says other things
            if shutil.disk_usage(path.parent).free < dataset.nbytes:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)) from None
            raise OSError(errno.EIO, str(error)) from None


def write_figure(path: Path, figure: Figure, *, dpi: int = 200) -> None:
    """Write a figure as PNG, at so many dots per inch, or as SVG, by the ending of the name."""
    import matplotlib as mpl

    kind = path.suffix[1:]
    metadata: dict[str, Any] = {"Software": "bedtide"}
    if kind == "svg":
        metadata = {"Creator": "bedtide", "Date": None}
    same = mpl.rc_context({"svg.hashsalt": "bedtide"})
    with replacing(path) as temporary, same:
        figure.savefig(temporary, dpi=dpi, format=kind, metadata=metadata)


def write_pages(path: Path, figures: list[Figure]) -> None:
    """Write figures as the pages of one PDF."""
    from matplotlib.backends.backend_pdf import PdfPages

    said = {"Creator": "bedtide", "CreationDate": None}
    with replacing(path) as temporary, PdfPages(temporary, metadata=said) as pages:
        for figure in figures:
            pages.savefig(figure)


_WRITERS: Final[dict[str, Callable[[Path, Any], None]]] = {
    ".csv": write_csv,
    ".json": write_json,
    ".nc": write_netcdf,
    ".pdf": write_pages,
    ".png": write_figure,
    ".svg": write_figure,
}


def write(path: Path, content: Any) -> None:
    """Write what the name of a file says that it holds; a function is given the path instead."""
    if callable(content):
        content(path)
    else:
        _WRITERS.get(path.suffix, write_text)(path, content)


def write_folder(folder: Path, contents: Mapping[str, Any]) -> list[Path]:
    """Write files that belong together, by their names, and return their paths in order.

    All are written to a hidden folder first. If that fails or is interrupted, a new folder does not
    come into being, and in an old one every file stays as it was. A new folder appears with all its
    files at once; in an old one they are then replaced one after another, and others stay.
    """
    check_folder(folder)
    is_new = not folder.exists()
    beside = folder.parent if is_new else folder
    made = [parent for parent in (beside, *beside.parents) if not parent.exists()]
    with system_errors(folder):
        beside.mkdir(parents=True, exist_ok=True)
        _sweep(beside)
        staging = Path(tempfile.mkdtemp(dir=beside, prefix=_PREFIX))
        try:
            for name, content in contents.items():
                with system_errors(folder / name):
                    write(staging / name, content)
            if is_new:
                staging.chmod(0o777 & ~_umask())
                os.rename(staging, folder)
            else:
                for name in contents:
                    os.replace(staging / name, folder / name)
        except BaseException:
            shutil.rmtree(staging, ignore_errors=True)
            for parent in made:
                with suppress(OSError):
                    parent.rmdir()
            raise
        shutil.rmtree(staging, ignore_errors=True)
    return [folder / name for name in contents]


@contextmanager
def system_errors(path: Path) -> Iterator[None]:
    """Turn what the system says into an error that names the file."""
    try:
        yield
    except OSError as error:
        if path.parent.name.startswith(_PREFIX):
            raise  # whoever moves the file to its place names it
        reason = error.strerror or str(error)
        raise FileError(
            str(path),
            f"could not be written: {reason[:1].lower()}{reason[1:]}",
            hint="Choose another folder, or make room.",
        ) from error


def _settle(path: Path) -> None:
    """Have the system put a file on the disk, with the rights that any new file gets."""
    path.chmod(0o666 & ~_umask())
    with path.open("rb+") as handle:
        os.fsync(handle.fileno())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _cell(value: Any) -> Any:
    """Text of a cell that no spreadsheet takes for a formula."""
    return f"'{value}" if isinstance(value, str) and value[1:] and value[0] in "=+-@" else value


def _sweep(folder: Path) -> None:
    """Remove what earlier runs that were killed left in a folder."""
    for left in folder.glob(f"{_PREFIX}*"):
        with suppress(OSError):
            if time.time() - left.lstat().st_mtime > _OLD:
                shutil.rmtree(left) if left.is_dir() else left.unlink()


def _attribute(value: Any) -> Any:
    """Value that a NetCDF attribute can hold."""
    if isinstance(value, (list, tuple)) and all(isinstance(part, str) for part in value):
        return "\n".join(value)
    if isinstance(value, bool):
        return int(value)
    return "" if value is None else value
