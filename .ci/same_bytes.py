"""The build of the package: that of setuptools, with archives that are the same bytes on every machine.

setuptools writes the present time and the user's name into a source archive, and the user's file modes into both.
The times are those of SOURCE_DATE_EPOCH; without it, of 1980, the earliest that a wheel can hold.
"""

from __future__ import annotations

import gzip
import io
import os
import stat
import tarfile
import zipfile
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import *  # noqa: F403  (the hooks that are not changed here)

EARLIEST = 315532800  # 1980-01-01: a zip file, so a wheel, knows no earlier date


def _moment() -> int:
    return max(int(os.environ.setdefault("SOURCE_DATE_EPOCH", str(EARLIEST))), EARLIEST)


def build_sdist(sdist_directory: str, config_settings: dict[str, Any] | None = None) -> str:
    """Build the source archive, then write it again with sorted members and nothing of this machine."""
    name = build_meta.build_sdist(sdist_directory, config_settings)
    archive = Path(sdist_directory) / name
    plain = io.BytesIO()
    with tarfile.open(archive) as made, tarfile.open(fileobj=plain, mode="w", format=tarfile.PAX_FORMAT) as kept:
        for member in sorted(made.getmembers(), key=lambda member: member.name):
            runs = member.isdir() or member.mode & 0o100
            member.mtime, member.mode = _moment(), 0o755 if runs else 0o644
            member.uid = member.gid = 0
            member.uname = member.gname = ""
            member.pax_headers = {}
            kept.addfile(member, made.extractfile(member) if member.isfile() else None)
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
