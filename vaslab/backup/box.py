"""How the parts of a backup are written and read: as they are, or encrypted under the key of the backups.

An encrypted part is a mark, a salt, and blocks of AES-256-GCM. Key of the part: HKDF of the backups' key and
the salt; nonce of a block: its number and whether it is the last. So a block that was changed, moved, cut off
or put in is found when it is read, and no nonce comes twice under a key.
"""

import hashlib
import hmac
import io
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

_MARK = b"vaslab backup, encrypted, 1\n"
_SALT = 32
_BLOCK = 1 << 20
_TAG = 16
# Larger files are held on disk while they are brought back; recordings and pictures are smaller.
_IN_MEMORY = 64 * 2**20


class NotReadable(OSError):
    """An encrypted part was changed or cut off, or is of another key."""


class Box:
    """Writes and reads parts; ``key`` (32 bytes) is None where they are kept as they are."""

    def __init__(self, key: bytes | None) -> None:
        self._key = key

    @property
    def key_name(self) -> str:
        """By which a key is known again without giving it away; empty without one."""
        return self._keyed("name of the key")[:16] if self._key else ""

    def name_of(self, digest: str) -> str:
        """The name of a stored file in the backup. Its own sum would tell whoever has the same file."""
        return self._keyed(digest) if self._key else digest

    @contextmanager
    def into(self, path: Path) -> Iterator[IO[bytes]]:
        with path.open("wb") as raw:
            if self._key is None:
                yield raw
                return
            salt = os.urandom(_SALT)
            raw.write(_MARK + salt)
            blocks = _Writing(raw, self._cipher(salt))
            yield blocks  # type: ignore[misc]
            blocks.end()

    @contextmanager
    def out_of(self, path: Path) -> Iterator[IO[bytes]]:
        """Raises NotReadable, here or while it is read."""
        with path.open("rb") as raw:
            if self._key is None:
                yield raw
                return
            if raw.read(len(_MARK)) != _MARK:
                raise NotReadable(f"{path.name} is not encrypted as the others are")
            reading = _Reading(raw, self._cipher(raw.read(_SALT)))
            with io.BufferedReader(reading, _BLOCK) as blocks:
                yield blocks

    @contextmanager
    def whole(self, path: Path) -> Iterator[IO[Any]]:
        """The same, read to its end first, so that nothing of a changed part is passed on."""
        with self.out_of(path) as part, tempfile.SpooledTemporaryFile(_IN_MEMORY) as copy:
            while chunk := part.read(_BLOCK):
                copy.write(chunk)
            copy.seek(0)
            yield copy

    def sum_of(self, path: Path) -> str:
        """SHA-256 of what is inside."""
        digest = hashlib.sha256()
        with self.out_of(path) as part:
            while chunk := part.read(_BLOCK):
                digest.update(chunk)
        return digest.hexdigest()

    def _keyed(self, text: str) -> str:
        return hmac.new(self._key or b"", b"vaslab backup: " + text.encode(), "sha256").hexdigest()

    def _cipher(self, salt: bytes) -> AESGCM:
        derived = HKDF(algorithm=SHA256(), length=32, salt=salt, info=b"vaslab backup, one part")
        return AESGCM(derived.derive(self._key or b""))


def _nonce(number: int, last: bool) -> bytes:
    return number.to_bytes(11, "big") + (b"\1" if last else b"\0")


class _Writing(io.RawIOBase):
    """Encrypts block by block. ``end`` writes the last one; without it the part cannot be read."""

    def __init__(self, raw: IO[bytes], cipher: AESGCM) -> None:
        self._raw, self._cipher = raw, cipher
        self._waiting, self._number = bytearray(), 0

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self._waiting += data
        while len(self._waiting) > _BLOCK:
            self._put(bytes(self._waiting[:_BLOCK]), last=False)
            del self._waiting[:_BLOCK]
        return len(data)

    def end(self) -> None:
        self._put(bytes(self._waiting), last=True)

    def _put(self, block: bytes, *, last: bool) -> None:
        self._raw.write(self._cipher.encrypt(_nonce(self._number, last), block, None))
        self._number += 1


class _Reading(io.RawIOBase):
    """Decrypts block by block; the last must say that it is the last."""

    def __init__(self, raw: IO[bytes], cipher: AESGCM) -> None:
        self._raw, self._cipher = raw, cipher
        self._there, self._number, self._ended = b"", 0, False
        self._ahead = raw.read(_BLOCK + _TAG)

    def readable(self) -> bool:
        return True

    def readinto(self, into: Any) -> int:
        while not self._there and not self._ended:
            self._take()
        taken = self._there[: len(into)]
        into[: len(taken)] = taken
        self._there = self._there[len(taken) :]
        return len(taken)

    def _take(self) -> None:
        block, self._ahead = self._ahead, self._raw.read(_BLOCK + _TAG)
        self._ended = not self._ahead
        try:
            self._there = self._cipher.decrypt(_nonce(self._number, self._ended), block, None)
        except (InvalidTag, ValueError):
            raise NotReadable("this part was changed, cut off, or encrypted with another key") from None
        self._number += 1
