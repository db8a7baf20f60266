"""The build of the package: that of setuptools, with archives that are the same bytes on every machine.

setuptools writes the present time and the user's name into a source archive, and the user's file modes into both; and of what
is no package it packs next to nothing, though the tests and the checks need it.
The times are those of SOURCE_DATE_EPOCH; without it, of 1980, the earliest that a wheel can hold.
"""

from __future__ import annotations

import gzip
import io
import os
import stat
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import *  # noqa: F403  (the hooks that are not changed here)

EARLIEST = 315532800  # 1980-01-01: a zip file, so a wheel, knows no earlier date

#: what stands in the source archive beside the packages
BESIDE = ("DEVELOPERS.md", ".gitignore", ".ci", "benchmarks", "references", "tests")


def _moment() -> int:
    return max(int(os.environ.setdefault("SOURCE_DATE_EPOCH", str(EARLIEST))), EARLIEST)


def _beside() -> Iterator[Path]:
    for name in BESIDE:
        place = Path(name)
        yield from [place] if place.is_file() else (path for path in place.rglob("*") if path.is_file())


def build_sdist(sdist_directory: str, config_settings: dict[str, Any] | None = None) -> str:
    """Build the source archive, then write it again with all it needs, in order, and nothing of this machine."""
    name = build_meta.build_sdist(sdist_directory, config_settings)
    archive = Path(sdist_directory) / name
    top = name.removesuffix(".tar.gz")
    with tarfile.open(archive) as made:
        files = {m.name: (m.mode, made.extractfile(m).read()) for m in made.getmembers() if m.isfile()}
    for path in _beside():
        if path.suffix != ".pyc":
            files.setdefault(f"{top}/{path.as_posix()}", (path.stat().st_mode, path.read_bytes()))
    plain = io.BytesIO()
    with tarfile.open(fileobj=plain, mode="w", format=tarfile.PAX_FORMAT) as kept:
        for place, (mode, content) in sorted(files.items()):
            member = tarfile.TarInfo(place)
            member.size, member.mtime, member.mode = len(content), _moment(), 0o755 if mode & 0o100 else 0o644
            kept.addfile(member, io.BytesIO(content))
    packed = io.BytesIO()
    with gzip.GzipFile(filename="", fileobj=packed, mode="wb", mtime=_moment()) as file:
        file.write(plain.getvalue())
    archive.write_bytes(packed.getvalue())
    return name


def build_wheel(
    wheel_directory: str, config_settings: dict[str, Any] | None = None, metadata_directory: str | None = None
) -> str:
    """Build the wheel, then write it again with the modes that public files have, whatever they are here."""
    _moment()
    name = build_meta.build_wheel(wheel_directory, config_settings, metadata_directory)
    wheel = Path(wheel_directory) / name
    packed = io.BytesIO()
    with zipfile.ZipFile(wheel) as made, zipfile.ZipFile(packed, "w") as kept:
        for member in made.infolist():
            member.external_attr = (stat.S_IFREG | 0o644) << 16
            kept.writestr(member, made.read(member))
    wheel.write_bytes(packed.getvalue())
    return name
