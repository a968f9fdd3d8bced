"""Where machine code of the kernels is kept between runs, under a key that all of them share.

A compiled function holds the code of every function that it calls, so an edit in any file makes the
code of every other stale: the key is a hash of *all* kernel sources, of the versions of this package,
numba and numpy, and of Python. Each key has a folder in the user's cache folder; nothing is written
into the package. What is read back is code that will run, so a folder that others may write to, or
that belongs to someone else, is not used: a private one among the temporary files is, or none.
"""

import contextlib
import hashlib
import os
import shutil
import stat
import sys
import tempfile
import time
from functools import cache
from pathlib import Path

from tanksolve.version import __version__

__all__ = ["is_fresh", "key_folder", "read", "sources_hash", "store_words", "write"]

_KERNEL = str(Path(__file__).resolve().parent)
_PREFIX = "code-"
_KEPT = 8  # keys: a few versions side by side, or the last edits of a developer
_IN_USE = 3600.0  # s: a key used within this time is kept in any case


def sources_hash(folder: str = _KERNEL) -> str:
    """Hash of all Python sources below ``folder``, names and content; empty where there are none."""
    digest, found = hashlib.sha256(), False
    for place, folders, files in os.walk(folder):
        folders.sort()
        for name in sorted(files):
            if name.endswith(".py"):
                found = True
                with open(os.path.join(place, name), "rb", buffering=0) as source:  # noqa: PTH123, PTH118 -- twice as quick
                    content = source.read()
                digest.update(f"{place[len(folder) :]}/{name} {len(content)}\n".encode())
                digest.update(content)
    return digest.hexdigest() if found else ""


@cache
def _hash_at_start() -> str:
    try:
        return sources_hash()
    except OSError:  # sources that cannot be read cannot be told to be unchanged
        return ""


def is_fresh() -> bool:
    """Whether the sources are still those that the key was made of: what is compiled may be kept."""
    try:
        return sources_hash() == _hash_at_start()
    except OSError:
        return False


@cache
def key_folder(versions: str) -> Path | None:
    """The folder for code made of these sources under these ``versions``; None where none can be kept.

    It is made if it is not there; then the oldest of the others go.
    """
    store, sources = _store(), _hash_at_start()
    if store is None or not sources:
        return None
    key = hashlib.sha256(f"{sources} {versions} {sys.version}".encode()).hexdigest()[:16]
    folder = store / f"{_PREFIX}{__version__}-{key}"
    try:
        if folder.is_dir():
            os.utime(folder)  # the newest are those last used
        else:
            folder.mkdir(mode=0o700, exist_ok=True)
            _remove_old(store)
    except OSError:
        return None
    return folder


def read(folder: Path, name: str) -> bytes | None:
    """What was written under ``name``; None where it is not there or not as it was written."""
    try:
        content = (folder / name).read_bytes()
    except OSError:
        return None
    whole = hashlib.sha256(content[32:]).digest() == content[:32]
    return content[32:] if whole else None


def write(folder: Path, name: str, data: bytes) -> None:
    """Keep ``data`` under ``name``, whole or not at all; where that cannot be, nothing is kept.

    Each name is one file, so of two runs that write at once the last one's file stays, whole.
    """
    temporary = ""
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=".", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            file.write(hashlib.sha256(data).digest() + data)
        Path(temporary).replace(folder / name)
    except OSError:
        pass  # a full disk, a folder just removed: the run has its code, the next compiles anew
    finally:
        with contextlib.suppress(OSError):  # it has gone where it was written whole
            Path(temporary).unlink()


def store_words() -> str:
    """Where compiled code is kept and how much it is, in words."""
    store = _store()
    if store is None:
        return "compiled code is kept nowhere: no folder of your own can be written; each run compiles anew"
    keys = _keys(store)
    sizes = [
        entry.stat().st_size
        for key in keys
        for entry in os.scandir(key)
        if entry.is_file(follow_symlinks=False)
    ]
    return f"compiled code: {store} ({sum(sizes) / 1e6:.1f} MB; may be deleted at any time)"


@cache
def _store() -> Path | None:
    """The user's folder for compiled code, else a private temporary one; None where neither can be."""
    for place in (_user_cache(), _temporary()):
        if place is not None and _is_ours(place):
            return place
    return None


def _user_cache() -> Path | None:
    """As each system has it: XDG base directory specification 0.8; from memory for the others."""
    home = os.path.expanduser("~")  # noqa: PTH111 -- pathlib raises where there is no home
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "")
    elif sys.platform == "darwin":
        base = f"{home}/Library/Caches"
    else:
        given = os.environ.get("XDG_CACHE_HOME", "")
        base = given if os.path.isabs(given) else f"{home}/.cache"  # noqa: PTH117
    return Path(base, "tanksolve") if os.path.isabs(base) else None  # noqa: PTH117


def _temporary() -> Path | None:
    owner = f"-{os.geteuid()}" if hasattr(os, "geteuid") else ""
    try:
        return Path(tempfile.gettempdir(), f"tanksolve{owner}")
    except OSError:  # there is none
        return None


def _is_ours(folder: Path) -> bool:
    """Whether the folder is there or can be made, is the user's own, and only the user may write."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        found = folder.lstat()
    except (OSError, ValueError):  # ValueError: a NUL in the name
        return False
    if not stat.S_ISDIR(found.st_mode):  # a link may lead anywhere
        return False
    if hasattr(os, "geteuid") and (found.st_uid != os.geteuid() or found.st_mode & 0o022):
        return False
    return os.access(folder, os.R_OK | os.W_OK | os.X_OK)


def _keys(store: Path) -> list[Path]:
    """The folders of all keys, the newest first; those that go meanwhile are left out."""
    dated = []
    for folder in store.glob(f"{_PREFIX}*"):
        with contextlib.suppress(OSError):
            dated.append((folder.stat().st_mtime, folder))
    return [folder for _, folder in sorted(dated, reverse=True)]


def _remove_old(store: Path) -> None:
    now = time.time()
    for part in store.glob(f"{_PREFIX}*/.*.part"):  # of a process that was killed while it wrote
        with contextlib.suppress(OSError):
            if now - part.stat().st_mtime > _IN_USE:
                part.unlink()
    for folder in _keys(store)[_KEPT:]:
        with contextlib.suppress(OSError):
            if now - folder.stat().st_mtime > _IN_USE:
                shutil.rmtree(folder, ignore_errors=True)
