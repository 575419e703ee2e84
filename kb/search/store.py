"""Vectors of texts, kept on disk between starts: a library's phrases take seconds to encode.

The file is disposable. One that cannot be read, or was made by another encoder, is made anew.
"""

from __future__ import annotations

import hashlib
import tempfile
import threading
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from platformdirs import user_cache_path

from kb.search.encoder import SIZE, VERSION, Encoder, Vectors, encoder

FILE = f"vectors-{VERSION}.npz"
# Bytes of a text's name.
_NAME = 32


class KeptVectors:
    """An encoder that remembers; safe for many threads.

    `path` is the file, read anew each time: after a start vectors are asked for at an edit only,
    and need not stay in memory. Without one, they are remembered as long as this object lives.
    What a later start does not ask for again is dropped from the file when it is next written.
    """

    def __init__(self, encoder: Encoder, path: Path | None = None) -> None:
        self.encoder = encoder
        self._path = path
        self._changing = threading.Lock()
        self._remembered: dict[bytes, NDArray[np.float16]] = {}
        self._asked: set[bytes] = set()

    def groups(self, texts: Sequence[Sequence[str]]) -> Iterator[Vectors]:
        """Give for each group a row of length 1 for each text; those not kept are encoded first."""
        names = [[_name(text) for text in group] for group in texts]
        with self._changing:
            kept = _read(self._path) if self._path else self._remembered
            missing = {
                name: text
                for group, said in zip(names, texts, strict=True)
                for name, text in zip(group, said, strict=True)
                if name not in kept
            }
            for group in names:
                self._asked.update(group)
            if missing:
                made = self.encoder.encode(list(missing.values())).astype(np.float16)
                kept.update(zip(missing, made, strict=True))
                self._write(kept)
            found = [[kept[name] for name in group] for group in names]
        return (_rows(group) for group in found)

    def _write(self, kept: dict[bytes, NDArray[np.float16]]) -> None:
        if self._path is None:
            return
        try:
            self._replace(self._path, {name: kept[name] for name in self._asked if name in kept})
        except OSError:
            # No room, or a home without a folder: the next start takes longer, nothing else.
            self._path, self._remembered = None, kept

    def _replace(self, path: Path, kept: Mapping[bytes, NDArray[np.float16]]) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as file:
            names = np.frombuffer(b"".join(kept), dtype=np.uint8).reshape(-1, _NAME)
            np.savez(file, names=names, vectors=np.stack(list(kept.values())))
        Path(file.name).replace(path)


def kept_for(library: Path, data: Path | None = None) -> KeptVectors | None:
    """Return the vectors kept for a library; None where no encoder is installed.

    A county's are in its data folder; those of a folder of articles by itself in the user's cache.
    """
    found = encoder()
    if found is None:
        return None
    if data is not None:
        return KeptVectors(found, data / "cache" / FILE)
    own = hashlib.sha256(str(library.resolve()).encode()).hexdigest()[:16]
    return KeptVectors(found, user_cache_path("latchbook") / own / FILE)


def _rows(vectors: Sequence[NDArray[np.float16]]) -> Vectors:
    if not vectors:
        return np.zeros((0, SIZE), dtype=np.float32)
    return np.stack(vectors).astype(np.float32)


def _name(text: str) -> bytes:
    return hashlib.sha256(text.encode()).digest()


def _read(path: Path) -> dict[bytes, NDArray[np.float16]]:
    try:
        with path.open("rb") as opened, np.load(opened, allow_pickle=False) as file:
            names, vectors = file["names"].tobytes(), file["vectors"]
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return {}
    if vectors.shape != (len(names) // _NAME, SIZE):
        return {}
    return {names[_NAME * at : _NAME * (at + 1)]: row for at, row in enumerate(vectors)}
