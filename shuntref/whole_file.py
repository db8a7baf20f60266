"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

__all__ = ["write_whole"]


def write_whole(path: str | os.PathLike[str], content: str | bytes) -> None:
    """Write ``content`` to ``path`` so that a reader sees the old file or the new one and never half of either.

    Text is written as UTF-8 with its line ends as they are.

    Raises
    ------
    OSError
        The folder does not exist or cannot be written; an existing file is then untouched.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(pathlib.Path(folder) / "a.txt", "whole")
    ...     (pathlib.Path(folder) / "a.txt").read_text()
    'whole'
    """
    target = Path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    except FileNotFoundError:
        raise FileNotFoundError(2, "the folder does not exist", str(target.parent)) from None
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)  # mkstemp makes it private; a result file is as readable as any other
        Path(temporary).replace(target)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
