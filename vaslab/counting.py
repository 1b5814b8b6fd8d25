"""A cache of files on one machine that counts without missing a try, whichever process or thread makes it."""

import pickle
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.filebased import FileBasedCache
from django.core.files import locks


class CountingFiles(FileBasedCache):
    """Django's own reads a count and then writes it: of two tries at the same instant one would be lost, and
    each try would begin the count's time anew. Redis does neither."""

    def add(
        self, key: Any, value: Any, timeout: float | None = DEFAULT_TIMEOUT, version: int | None = None
    ) -> bool:
        with self._alone():
            return super().add(key, value, timeout, version)

    def incr(self, key: Any, delta: int = 1, version: int | None = None) -> int:
        path = Path(self._key_to_file(key, version))  # type: ignore[attr-defined]
        with self._alone():
            count = self.get(key, version=version)
            if count is None:
                raise ValueError(f"Key {key!r} not found")
            with path.open("r+b") as file:
                pickle.load(file)  # its end, which stays  # noqa: S301  (written by this service)
                file.write(zlib.compress(pickle.dumps(count + delta, self.pickle_protocol)))
                file.truncate()
        return int(count) + delta

    @contextmanager
    def _alone(self) -> Iterator[None]:
        self._createdir()  # type: ignore[attr-defined]
        with Path(self._dir, "lock").open("ab") as file:  # type: ignore[attr-defined]
            locks.lock(file, locks.LOCK_EX)  # until the file is closed
            yield
