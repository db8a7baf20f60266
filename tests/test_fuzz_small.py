"""A few hundred hostile inputs to every reader, the same ones each time; ``.ci/fuzz.py`` puts as many as one likes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parents[1] / ".ci" / "fuzz.py"
#: targets -> inputs to each of them; the slow ones get few
GROUPS = {
    "unit text,written values,worker call,reply line,answer text,machine file,machine solved,load table,exercise file,"
    "bench file,mapping file,sheet,readings,answers sheet,class sheet,whole file": 300,
    "exercise solved,command line,bench planned": 25,
    "child process": 5,
}


@pytest.mark.skipif(sys.platform == "win32", reason="limits on time and memory are those of POSIX systems")
@pytest.mark.parametrize(("only", "each"), GROUPS.items())
def test_hostile_input_is_refused_in_order(only: str, each: int, tmp_path: Path) -> None:
    command = [sys.executable, str(SCRIPT), "--each", str(each), "--seed", "7", "--only", only, "--keep", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONUTF8": "1"})
    assert done.returncode == 0, done.stdout + done.stderr
    rows = [line.rsplit(maxsplit=7) for line in done.stdout.splitlines()[1:-2]]
    assert rows
    assert all(int(row[1]) == each and int(row[7]) == 0 for row in rows)
    assert all(int(row[2]) > 0 for row in rows), "nothing was accepted: the inputs are not near enough to good ones"
