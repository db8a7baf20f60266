"""Every fenced block of the documents is run: read by the real reader, executed, or its command line parsed by the program."""

from __future__ import annotations

import doctest
import importlib.util
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import distribution
from pathlib import Path

import click
import pytest

from shuntref.bench.bench_file import bench_from_text
from shuntref.bench.readings import read_log
from shuntref.cli import COMMANDS
from shuntref.conformance.mapping import read_setting
from shuntref.conformance.suite import load_suite
from shuntref.exercises.solver import solve
from shuntref.exercises.statement_file import exercise_from_text
from shuntref.model.machine_file import machine_from_text

ROOT = Path(__file__).parents[1]
DOCUMENTS = ("DEVELOPERS.md", *sorted(str(path.relative_to(ROOT)) for path in (ROOT / "references").rglob("*.md")))
FENCE = re.compile(r"^```(?P<language>[^\n]*)\n(?P<body>.*?)^```$", re.S | re.M)
#: an implementer's file as the documents speak of it, so that their examples have something to call
MY_LAB = """
def motor_speed(V, Rf, Ra, c, T, Rx=0.0):
    k = c * V / (Rf + Rx)
    return (V / k - T * Ra / 1000.0 / k**2) * 9.549296585513721

def motor_currents(**given):
    return 0.0

all_currents = speed_from_curve = motor_currents
"""


@dataclass(frozen=True)
class Block:
    """A fenced block: where it stands, what it says it is, what it holds."""

    document: str
    line: int
    language: str
    body: str


def blocks_of(document: str, text: str) -> list[Block]:
    """All fenced blocks of a text."""
    found = []
    for match in FENCE.finditer(text):
        found.append(Block(document, text[: match.start()].count("\n") + 1, match["language"].strip(), match["body"]))
    return found


BLOCKS = [block for name in DOCUMENTS for block in blocks_of(name, (ROOT / name).read_text(encoding="utf-8"))]


def run_block(block: Block, folder: Path) -> None:
    """Run one block the way its language asks for; a language or a kind of file nobody knows fails."""
    runners: dict[str, Callable[[Block, Path], None]] = {
        "toml": _toml, "json": _json, "csv": _log, "": _log, "python": _python, "sh": _shell,
        "console": _shell, "js": _javascript,
    }  # fmt: skip
    if block.language not in runners:
        raise AssertionError(f"{block.document}:{block.line}: no test knows how to run a block of {block.language!r}")
    runners[block.language](block, folder)


def _toml(block: Block, folder: Path) -> None:
    """By what the tables are: an exercise, a machine, a bench, or the file of an implementer."""
    tables = tomllib.loads(block.body)
    if "answer" in tables:
        solve(exercise_from_text(block.body, name="block"))
    elif {"machine", "flux"} <= set(tables) and "supply" not in tables:
        machine_from_text(block.body, where="block")
    elif "supply" in tables:
        bench_from_text(block.body, where="block")
    elif set(tables) & set(load_suite().functions):
        path = folder / "my_lab.toml"
        path.write_text(block.body, encoding="utf-8")
        (folder / "my_lab.py").write_text(MY_LAB, encoding="utf-8")
        read_setting(path, load_suite())
    else:
        raise AssertionError(f"{block.document}:{block.line}: no reader takes a file with the tables {sorted(tables)}")


def _json(block: Block, folder: Path) -> None:
    for line in block.body.splitlines():
        json.loads(line)


def _log(block: Block, folder: Path) -> None:
    """A bench log: every line with figures must be used."""
    log = read_log(block.body, "block")
    assert log.runs
    assert not log.refused(), [record.reason for record in log.refused()]


def _python(block: Block, folder: Path) -> None:
    if ">>>" in block.body:
        test = doctest.DocTestParser().get_doctest(block.body, {}, block.document, block.document, block.line)
        result = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE, verbose=False).run(
            test
        )
        assert result.failed == 0
        assert result.attempted > 0
        return
    (folder / "my_lab.py").write_text(MY_LAB, encoding="utf-8")
    (folder / "test_block.py").write_text(block.body, encoding="utf-8")
    collect = ["--collect-only"] if "def test_" in block.body else []
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-q", *collect, "test_block.py"]
    if not collect:
        command = [sys.executable, "test_block.py"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert not collect or "::test_" in done.stdout or re.search(r"test_block\.py: \d+", done.stdout), done.stdout


def _javascript(block: Block, folder: Path) -> None:
    """A program that speaks the lines of the protocol: started, asked, stopped."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed: the block of JavaScript cannot be run here")
    path = folder / "block.js"
    path.write_text(block.body, encoding="utf-8")
    inputs = {"supply_voltage": 120.0, "armature_resistance": 0.5, "starting_current": 60.0}
    asked = [{"request": "start"}, {"request": "evaluate", "id": "one", "name": "starting_resistance", "inputs": inputs},
             {"request": "stop"}]  # fmt: skip
    lines = "".join(json.dumps(line) + "\n" for line in asked)
    done = subprocess.run(
        [node, path.name], cwd=folder, input=lines, capture_output=True, text=True, check=True, timeout=60
    )
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert answers[0].get("ready") is True
    assert abs(answers[1]["result"] - 1.5) < 1e-12  # 120 V/60 A less 0.5 ohm


# --- command lines


def _shell(block: Block, folder: Path) -> None:
    """Every command exists and takes the options it is given; nothing is installed, nothing long is run."""
    body = block.body
    if block.language == "console":
        body = "\n".join(line[2:] for line in body.splitlines() if line.startswith("$ "))
    commands = [part.strip() for line in body.splitlines() for part in shlex_parts(line)]
    assert commands, f"{block.document}:{block.line}: no command in this block"
    for command in commands:
        _command(command, folder)


def shlex_parts(line: str) -> list[str]:
    """The commands of a line, comments taken off."""
    words = shlex.split(line, comments=True)
    parts: list[list[str]] = [[]]
    for word in words:
        if word == "&&":
            parts.append([])
        else:
            parts[-1].append(word)
    return [shlex.join(part) for part in parts if part]


def _command(command: str, folder: Path) -> None:
    program, *arguments = shlex.split(command)
    name = Path(program).name
    if name == "shuntref":
        _parsed_by_click(arguments)
    elif name == "pip":
        assert arguments[0] == "install"
        for wanted in re.findall(r"\[([\w,-]+)\]", command):
            extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
                "optional-dependencies"
            ]
            assert set(wanted.split(",")) <= set(extras), command
    elif name == "pytest":
        _collected(arguments, folder)
    elif name in ("ruff", "mypy"):
        _declared_for_developers(name)
        if importlib.util.find_spec(name) is not None:
            verb = [word for word in arguments[:1] if not word.startswith("-")]
            _runs([sys.executable, "-m", name, *verb, "--help"], ROOT)
            options = [word for word in arguments if word.startswith("--")]
            printed = subprocess.run(
                [sys.executable, "-m", name, *verb, "--help"], capture_output=True, text=True, check=True
            )
            assert all(option in printed.stdout for option in options), command
    elif name.startswith("python") and arguments[0] == "-m":
        assert importlib.util.find_spec(arguments[1]) is not None, command
    elif name.startswith("python"):
        compile((ROOT / arguments[0]).read_text(encoding="utf-8"), arguments[0], "exec")
    elif program.startswith("."):
        assert os.access(ROOT / program, os.X_OK), f"{program} cannot be run"
    else:
        raise AssertionError(f"no test knows the command {command!r}")


def _parsed_by_click(arguments: list[str]) -> None:
    """The options parsed by the command itself, in this process, nothing run; file names need not be there."""
    import importlib

    name, *rest = arguments
    assert name in COMMANDS, f"shuntref has no command {name!r}"
    module, _, attribute = COMMANDS[name][0].partition(":")
    command: click.Command = getattr(importlib.import_module(module), attribute)
    known = {text for parameter in command.params for text in (*parameter.opts, *parameter.secondary_opts)} | {"--help"}
    for word in rest:
        assert not word.startswith("--") or word.partition("=")[0] in known, f"shuntref {name} has no option {word!r}"


def _collected(arguments: list[str], folder: Path) -> None:
    if not arguments:
        return  # the whole suite: this is it
    where = ROOT
    if not any((ROOT / word).exists() for word in arguments):
        (folder / "my_lab.py").write_text(MY_LAB, encoding="utf-8")
        mapping = 'arguments = ["supply_voltage", "field_resistance"]\n'
        (folder / "my_lab.toml").write_text(f'[currents]\ncall = "my_lab.py:all_currents"\n{mapping}', encoding="utf-8")
        where = folder
    line = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "--collect-only", "-q", *arguments]
    _runs(line, where, {**os.environ, "PYTEST_ADDOPTS": ""})


def _declared_for_developers(name: str) -> None:
    named = [line.split(";")[0].strip() for line in distribution("shuntref").requires or () if 'extra == "dev"' in line]
    assert any(re.match(rf"{name}\b", line) for line in named), f"{name} is not among the packages of the extra dev"


def _runs(command: list[str], where: Path, environment: dict[str, str] | None = None) -> None:
    done = subprocess.run(command, cwd=where, capture_output=True, text=True, check=False, env=environment, timeout=120)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]


# --- the tests


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: f"{block.document}:{block.line}:{block.language}")
def test_a_block_of_the_documents_runs(block: Block, tmp_path: Path) -> None:
    run_block(block, tmp_path)


def test_the_documents_have_blocks_and_no_fence_is_left_open() -> None:
    assert {"DEVELOPERS.md", "references/README.md"} <= {block.document for block in BLOCKS}
    for name in DOCUMENTS:
        fences = len(re.findall(r"^```", (ROOT / name).read_text(encoding="utf-8"), re.M))
        assert fences == 2 * sum(block.document == name for block in BLOCKS), name
    print(f"figure: fenced blocks of the documents run: {len(BLOCKS)}")


@pytest.mark.parametrize("document", ["DEVELOPERS.md", "references/README.md"])
def test_files_modules_and_commands_named_in_the_text_exist(document: str) -> None:
    text = FENCE.sub("", (ROOT / document).read_text(encoding="utf-8"))
    words = re.findall(r"`([^`\n]+)`", text)
    paths = [word for word in words if re.fullmatch(r"(shuntref|tests|references|benchmarks|\.ci)/[\w./*-]*", word)]
    assert paths
    for path in paths:
        assert list(ROOT.glob(path)) if "*" in path else (ROOT / path).exists(), f"{document} names {path}"
    for word in words:
        if word.startswith("python -m shuntref"):
            assert importlib.util.find_spec(word.split()[2]) is not None, word
        if word.startswith("shuntref ") and not word.startswith("shuntref ."):
            _parsed_by_click(shlex.split(word)[1:])


BROKEN = [
    ("toml", 'title = "x"\nstatement = "x"\n[answer.a]\nof = "speed"\nvalue = "1 parsec"\n'),
    ("toml", '[machine]\narmature_resistance = "1 V"\n[flux]\nkind = "proportional"\n'),
    ("toml", '[speed]\ncall = "my_lab.py:motor_speed"\narguments = ["no_such_quantity in V"]\n'),
    ("toml", "[nobody]\nx = 1\n"),
    ("", "run;U [V];n [r/min]\n1;abc;1450\n"),
    ("json", '{"a": }'),
    ("python", ">>> 1 + 1\n3\n"),
    ("sh", "shuntref selfcheck --no-such-option"),
    ("sh", "shuntref nothing"),
    ("sh", ".venv/bin/pip install -e '.[no-such]'"),
    ("sh", "python benchmarks/no_such_file.py"),
    ("sh", "rm file"),
    ("console", "no command at all"),
    ("ruby", "puts 1"),
]


@pytest.mark.parametrize(("language", "body"), BROKEN, ids=[f"{n}-{b[0]}" for n, b in enumerate(BROKEN)])
def test_a_wrong_block_is_found_out(
    language: str, body: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises((AssertionError, ValueError, OSError)):
        run_block(Block("invented.md", 1, language, body), tmp_path)
