"""Read a zip that came from somewhere: within bounds, and with names that lead nowhere else."""

from __future__ import annotations

import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path

from kb.base.errors import InputError

LARGEST = 4 * 1024**3
MOST_FILES = 100_000
# A record is made of digests and salts, which hardly pack; logs of devices pack well, not so well.
_MOST_RATIO = 100
_SMALL = 16 * 1024**2
_CHUNK = 1024**2
_LONGEST = 400
_BROKEN = (
    zipfile.BadZipFile, zlib.error, struct.error, OSError, NotImplementedError, RuntimeError,
    EOFError, ValueError, OverflowError,
)  # fmt: skip


def shown(text: str) -> str:
    """A text from outside, fit to be printed: what is no plain sign is escaped, and cut short."""
    plain = "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii")
        for letter in text[: _LONGEST + 1]
    )
    return f"{plain[:_LONGEST]}..." if len(plain) > _LONGEST else plain


def same_name(name: str) -> str:
    """What a name is the same as on a machine that tells neither case nor spellings apart."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def read(path: Path) -> dict[str, bytes]:
    """The files of a zip, by name. Raises InputError for what is no zip, or too much of one."""
    try:
        with zipfile.ZipFile(path) as archive:
            infos = archive.infolist()
            _bounds(infos, path)
            _names(infos, path)
            return {
                info.filename: _member(archive, info, path) for info in infos if not info.is_dir()
            }
    except _BROKEN as error:
        raise InputError(f"{path} cannot be read as a zip: {shown(str(error))}.") from None


def _bounds(infos: Iterable[zipfile.ZipInfo], path: Path) -> None:
    """Refuse what would unpack to too much, all members together, before any is unpacked."""
    sizes = [info.file_size for info in infos]
    if len(sizes) > MOST_FILES or sum(sizes) > LARGEST:
        raise InputError(f"{path} would unpack to more than a record can be; it is not read.")
    if sum(sizes) > max(_SMALL, _MOST_RATIO * path.stat().st_size):
        raise InputError(
            f"{path} unpacks to far more than a record of its size holds; it is not read."
        )


def _names(infos: Iterable[zipfile.ZipInfo], path: Path) -> None:
    """Refuse names that two machines would unpack into two places, or over one another."""
    seen: dict[str, str] = {}
    for info in infos:
        name = info.orig_filename
        parts = name.removesuffix("/").split("/")
        if "\\" in name or ":" in name or "\0" in name or not {"", ".", ".."}.isdisjoint(parts):
            raise InputError(
                f"{path} holds '{shown(name)}', a name that leads out of its folder; "
                "it is not read."
            )
        if info.is_dir() and info.file_size:
            raise InputError(f"{path} holds '{shown(name)}', a folder with content; not read.")
        if (plain := same_name(name)) in seen:
            raise InputError(
                f"{path} holds {shown(name)} twice (also as {shown(seen[plain])}); "
                "only one of the two would be read."
            )
        seen[plain] = name


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, path: Path) -> bytes:
    """The content of one member, a piece at a time, and never more than it was said to be."""
    if info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
        raise InputError(
            f"{path}: {shown(info.filename)} is packed in a way that no record uses; not read."
        )
    pieces, size = [], 0
    with archive.open(info) as file:
        while piece := file.read(_CHUNK):
            size += len(piece)
            if size > info.file_size:
                raise InputError(f"{path}: {shown(info.filename)} is longer than it says.")
            pieces.append(piece)
    return b"".join(pieces)
