"""Files, packed or not, to records by the format that their content shows."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from collections.abc import Sequence
from pathlib import Path

from bedtide.errors import FieldError, FileError, InputError, raise_all
from bedtide.weather.formats import FORMATS, read_netcdf
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text, decode

__all__ = ["Paths", "load_bytes", "load_records"]

Paths = str | Path | Sequence[str | Path]
_MOST_BYTES = 400_000_000


def load_records(paths: Paths, options: Options) -> list[Record]:
    """Records of one or several files; zip and gzip are unpacked in memory.

    Parameters
    ----------
    paths : str, Path or sequence of these
        Files.
    options : Options
        How the person wants them understood.

    Returns
    -------
    list of Record
        At least one that has rows. Members of a zip archive that are of no known kind are passed
        over where another member is of one.

    Raises
    ------
    FileError
        If a file can't be read or is of no known kind.
    """
    several = [paths] if isinstance(paths, (str, Path)) else list(paths)
    if not several:
        raise FileError("weather", "no file was given", expected="at least one")
    records: list[Record] = []
    errors: list[InputError] = []
    for path in map(Path, several):
        try:
            records += _read_one(load_bytes(path), path.name, options)
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    if not any(record.columns for record in records):
        raise_all([error for record in records for error in record.errors])
        raise FieldError(
            records[0].source, "there is no weather in it", expected="daily or hourly weather"
        )
    return records


def load_bytes(path: Path) -> bytes:
    """Content of a file; refused beyond 400 MB."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise FileError(path.name, "it is larger than 400 MB", expected="one station's record")
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it can't be opened"
        raise FileError(str(path), f"it can't be read: {reason.lower()}") from None
    except ValueError:
        raise FileError(repr(str(path)), "it is not a file name") from None


def _read_one(data: bytes, name: str, options: Options) -> list[Record]:
    if data[:2] == b"PK":
        return _read_zip(data, name, options)
    if data[:2] == b"\x1f\x8b":
        try:
            with gzip.open(io.BytesIO(data)) as packed:
                data = packed.read(_MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error):
            raise FileError(name, "it can't be unpacked", expected="a whole gzip file") from None
        if len(data) > _MOST_BYTES:
            raise FileError(name, "it is larger than 400 MB", expected="one station's record")
    if data[:3] == b"CDF" or data[:8] == b"\x89HDF\r\n\x1a\n":
        return [read_netcdf(data, name, options)]
    text = decode(data, name)
    for known in FORMATS:
        if known.recognise(text, options):
            return [known.read(text, options)]
    return [FORMATS[-1].read(text, options)]


def _read_zip(data: bytes, name: str, options: Options) -> list[Record]:
    """Every member of a known kind."""
    records = []
    unknown: list[Text] = []
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = [info for info in archive.infolist() if not info.is_dir()]
        if sum(info.file_size for info in members) > _MOST_BYTES:
            raise FileError(name, "it is larger than 400 MB", expected="one station's record")
        packed = [(info.filename, archive.read(info)) for info in members]
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, OSError):
        raise FileError(name, "it can't be unpacked", expected="a whole zip file") from None
    if any(member == "xl/workbook.xml" for member, _ in packed):
        raise FileError(name, "it is a spreadsheet", hint="Save it as CSV and give that file")
    for member, content in packed:
        if not content.strip():
            continue
        label = f"{name}/{member.rsplit('/', 1)[-1]}"
        try:
            text = decode(content, label)
        except FileError:
            continue
        known = next((k for k in FORMATS if k.recognise(text, options)), None)
        if known is None:
            unknown.append(text)
        else:
            records.append(known.read(text, options))
    if not any(record.columns for record in records):
        raise FileError(
            name,
            "no file in it is of a known kind",
            expected="daily or hourly weather",
            hint=f"Found: {', '.join(text.name for text in unknown[:5])}" if unknown else "",
        )
    return records
