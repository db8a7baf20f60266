"""Hostile code under test: hangs, crashes, floods, forgeries and nonsense are one case's failure, never the runner's."""

import os
import runpy
import sys
import textwrap
import time
from pathlib import Path

import pytest

from shuntref.conformance.child import Limits
from shuntref.conformance.functions import function
from shuntref.conformance.mapping import bind
from shuntref.conformance.runner import run_cases
from shuntref.conformance.targets import command_target, python_target

SUITE = runpy.run_path(str(Path(__file__).parent / "zoo" / "no_load_cases.py"))["no_load_suite"]()
SIGNATURE = "supply_voltage, field_resistance, armature_resistance, flux_constant, load_torque"
QUICK = Limits(case_seconds=1.0, start_seconds=10.0, memory_mb=600)
RIGHT = "if field_resistance < 0: raise ValueError('negative')\n    return field_resistance / flux_constant"


def lab(tmp_path, body, top="", seconds=1.0):
    """A file with a function that runs ``body`` first and is right otherwise."""
    source = f"calls = 0\n{top}\ndef speed({SIGNATURE}):\n    global calls\n    calls += 1\n    {body}\n    {RIGHT}\n"
    path = tmp_path / "lab.py"
    path.write_text(source, encoding="utf-8")
    limits = Limits(case_seconds=seconds, start_seconds=10.0, memory_mb=600)
    return python_target({"speed": (str(path), "speed")}, SUITE, limits=limits)


def statuses(target):
    score = run_cases(SUITE, SUITE.cases, target)
    return [outcome.status for outcome in score.outcomes], [outcome.verdict.reason for outcome in score.outcomes]


def test_good_code_passes(tmp_path):
    assert statuses(lab(tmp_path, "pass"))[0] == ["passed"] * 4


@pytest.mark.parametrize(
    ("misdeed", "words"),
    [
        ("import time; time.sleep(60)", "no answer within 1 s"),
        ("import os; os._exit(3)", "ended with status 3"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "SIGSEGV"),
        ("import ctypes; ctypes.string_at(0)", "SIGSEGV"),
        ("import os; [os.close(fd) for fd in range(3, 20) if fd_is_open(fd)]", "ended"),
        ("while True: pass", "no answer within 1 s"),
    ],
)
def test_a_crash_or_hang_costs_one_case_and_the_next_is_asked_afresh(tmp_path, misdeed, words):
    top = "import os\ndef fd_is_open(fd):\n    try: os.fstat(fd)\n    except OSError: return False\n    return True\n"
    marker = tmp_path / "done"
    body = (
        f"if calls == 2 and not __import__('os').path.exists({str(marker)!r}):\n"
        f"        open({str(marker)!r}, 'w').close()\n        " + misdeed
    )
    status, reasons = statuses(lab(tmp_path, body, top))
    assert status == ["passed", "failed", "passed", "passed"]
    assert words in reasons[1]


@pytest.mark.parametrize(
    ("misdeed", "words"),
    [
        ("import sys; sys.exit('bye')", "SystemExit"),
        ("raise KeyboardInterrupt", "KeyboardInterrupt"),
        ("return [1][5:][0] + unknown_name if False else unknown_name", "NameError"),
        ("hold = [bytearray(50_000_000) for _ in range(1000)]", "MemoryError"),
        ("return (lambda f: f(f))(lambda f: f(f))", "RecursionError"),
        ("return '161'", "no number"),
        ("return object()", "no number"),
        ("return 1j", "no number"),
        ("return True", "no number"),
        ("return {}", "no 'speed'"),
        ("return [1.0, 2.0]", "certified 161"),
        (
            "class Odd:\n            def __float__(self): raise RuntimeError('odd')\n        return Odd()",
            "cannot be read",
        ),
        ("return input()", "EOFError"),
        ("return float('inf')", "certified 161"),
        ("return 10**400", "too large"),
    ],
)
def test_nonsense_costs_one_case_without_a_restart(tmp_path, misdeed, words):
    status, reasons = statuses(lab(tmp_path, f"if calls == 2:\n        {misdeed}", seconds=20.0))
    assert status == ["passed", "failed", "passed", "passed"]
    assert words in reasons[1]


@pytest.mark.parametrize(
    "fault", ["sys.exit(1)", "unknown_name", "None.speed", "import nowhere_at_all", "open('/no/such/file')", "input()"]
)
def test_a_fault_is_no_refusal(tmp_path, fault):
    status, _ = statuses(lab(tmp_path, f"if field_resistance < 0:\n        import sys; {fault}"))
    assert status[3] == "failed"


@pytest.mark.parametrize("refusal", ["raise ValueError('no')", "1 / 0", "assert field_resistance > 0", "return float('nan')",
                                     "return None", "raise RuntimeError('no')"])  # fmt: skip
def test_every_plain_way_to_refuse_is_understood(tmp_path, refusal):
    assert statuses(lab(tmp_path, f"if field_resistance < 0:\n        {refusal}"))[0][3] == "passed"


def test_printing_and_reading_do_not_disturb_the_conversation(tmp_path):
    noise = (
        "print('{\"id\": 1, \"result\": 3}' * 1000); import sys; sys.stdout.flush(); sys.stderr.write('x' * 300_000)"
    )
    assert statuses(lab(tmp_path, noise))[0] == ["passed"] * 4


def test_printing_what_looks_like_an_answer_is_no_answer(tmp_path):
    forged = r"print('\n'.join('{\"id\": %d, \"result\": 3}' % n for n in range(9)), flush=True)"
    assert statuses(lab(tmp_path, forged))[0] == ["passed"] * 4


def test_a_call_that_does_not_fit_the_function_is_no_refusal(tmp_path):
    target = lab(tmp_path, "pass")
    names = ("field_resistance", "armature_resistance", "flux_constant", "load_torque")
    written = {"arguments": {"volts": "supply_voltage", **{name: name for name in names}}}
    target.bindings["speed"] = bind(function("speed"), written)
    status, reasons = statuses(target)
    assert status == ["failed"] * 4
    assert "cannot be called as mapped" in reasons[3]


def test_a_background_thread_and_a_grandchild_do_not_hold_the_runner(tmp_path):
    body = ("import threading, time, subprocess, sys; threading.Thread(target=time.sleep, args=(30,)).start(); "
            "subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(30)'])")  # fmt: skip
    began = time.perf_counter()
    assert statuses(lab(tmp_path, body))[0] == ["passed"] * 4
    assert time.perf_counter() - began < 10


def test_a_hang_on_every_case_is_bounded(tmp_path):
    target = lab(tmp_path, "import time; time.sleep(60)")
    target.limits = Limits(case_seconds=0.2, time_outs=2)
    status, reasons = statuses(target)
    assert status == ["failed"] * 4
    assert "not asked" in reasons[2]


def test_restarts_are_bounded(tmp_path):
    target = lab(tmp_path, "import os; os._exit(1)")
    target.limits = Limits(case_seconds=1, restarts=1)
    status, reasons = statuses(target)
    assert status == ["failed"] * 4
    assert "not asked" in reasons[3]


@pytest.mark.parametrize(
    "top", ["import os; os._exit(1)", "raise RuntimeError('broken')", "import nowhere_at_all", "def f(:"]
)
def test_code_that_cannot_be_loaded_is_unusable_input_in_one_line(tmp_path, top):
    with pytest.raises(ValueError, match=r"lab\.py.*(loaded|ready)"):
        lab(tmp_path, "pass", top)


def test_code_that_never_finishes_loading_is_unusable_input(tmp_path):
    path = tmp_path / "lab.py"
    path.write_text("import time; time.sleep(60)", encoding="utf-8")
    with pytest.raises(ValueError, match="never said that it is ready"):
        python_target({"speed": (str(path), "speed")}, SUITE, limits=Limits(start_seconds=1.0))


def test_the_code_under_test_is_told_inputs_only(tmp_path):
    """Whatever reaches the child: its command line, its standard input, its environment; no certified value, no case id."""
    heard = tmp_path / "heard"
    program = f"""
        import os, sys
        told = open({str(heard)!r}, "w")
        told.write(repr(sys.argv) + repr(dict(os.environ)))
        for line in sys.stdin:
            told.write(line)
            told.flush()
            if '"start"' in line:
                print('{{"ready":true}}', flush=True)
            elif '"run"' in line:
                print('{{"id":' + line.split('"id":')[1].split(",")[0] + ',"result":1}}', flush=True)
            else:
                break
        """
    script = tmp_path / "listener.py"
    script.write_text(textwrap.dedent(program), encoding="utf-8")
    suite = runpy.run_path(str(Path(__file__).parent / "zoo" / "no_load_cases.py"))["no_load_suite"](
        3, expected={"speed": "987.654321"}
    )
    run_cases(suite, suite.cases, command_target(f"{sys.executable} {script}", suite, limits=QUICK))
    text = heard.read_text(encoding="utf-8")
    assert '"field_resistance":160.0' in text
    for secret in ("987.654", "no-load-1", "refused", "invalid", "expected", "tolerance", "two-pi"):
        assert secret not in text


def speaker(tmp_path, reply, limits=QUICK):
    """A program that answers each question with what ``reply`` (an expression in ``n``, the id, and ``r``) prints."""
    program = f"""
        import json, sys
        for line in sys.stdin:
            q = json.loads(line)
            if q["request"] == "start":
                print('{{"ready": true}}', flush=True)
            elif q["request"] == "stop":
                break
            else:
                n, r = q["id"], q["inputs"]["field_resistance"]
                sys.stdout.write({reply})
                sys.stdout.flush()
        """
    script = tmp_path / "speaker.py"
    script.write_text(textwrap.dedent(program), encoding="utf-8")
    return command_target(f"{sys.executable} {script}", SUITE, limits=limits)


GOOD = "json.dumps({'id': n, 'result': r} if r > 0 else {'id': n, 'error': 'negative'}) + chr(10)"


@pytest.mark.parametrize(
    "reply",
    [
        GOOD,
        f"'working ...' + chr(10) + '{{' + chr(10) + {GOOD}",
        f"json.dumps({{'id': n + 1, 'result': 5}}) + chr(10) + {GOOD} + {GOOD}",
        f"{GOOD} + 'x' * 100",
        "json.dumps({'id': float(n), 'result': {'speed': r if r > 0 else None}}) + chr(13) + chr(10)",
        "'{\"id\": %d, \"result\": %s}' % (n, r if r > 0 else '-nan') + chr(10)",
        f"chr(0) + chr(10) + chr(0xe9) + chr(10) + {GOOD}",
    ],
)
def test_noise_around_an_answer_does_not_matter(tmp_path, reply):
    assert statuses(speaker(tmp_path, reply))[0] == ["passed"] * 4


@pytest.mark.parametrize(
    ("reply", "words"),
    [
        ("json.dumps({'id': n + 1, 'result': r}) + chr(10)", "answered another question"),
        ("json.dumps({'id': str(n), 'result': r}) + chr(10)", "no answer"),
        ("'x' * 1_000_000", "longer than"),
        ("('x' * 999 + chr(10)) * 5_000", "bytes of output that is no answer"),
        ("'{\"id\": ' + str(n) + ', \"result\": ' + '[' * 5000", "no answer"),
        ("''", "no answer"),
    ],
)
def test_forged_flooded_or_missing_answers_fail(tmp_path, reply, words):
    status, reasons = statuses(speaker(tmp_path, reply, Limits(case_seconds=0.6, time_outs=1)))
    assert status == ["failed"] * 4
    assert words in reasons[0]


def test_the_first_answer_to_a_question_counts(tmp_path):
    """A program cannot try several answers, nor put a right one after a wrong one."""
    wrong = "json.dumps({'id': n, 'result': 4711.0}) + chr(10)"
    assert statuses(speaker(tmp_path, f"{wrong} + {GOOD}"))[0] == ["failed"] * 4
    assert statuses(speaker(tmp_path, f"{GOOD} + {wrong}"))[0] == ["passed"] * 4


def test_a_function_the_program_does_not_have_is_not_implemented(tmp_path):
    status, _ = statuses(speaker(tmp_path, "json.dumps({'id': n, 'missing': True}) + chr(10)"))
    assert status == ["not implemented"] * 4


def test_a_program_that_reads_one_character_ahead_is_understood(tmp_path):
    """fgetl of Octave hands over a line only when the next character has come."""
    program = """
        import json, sys
        ahead = ""
        while True:
            line = ahead
            while not line.endswith("\\n"):
                line += sys.stdin.read(1) or "\\n"
            ahead = sys.stdin.read(1)
            q = json.loads(line)
            if q["request"] == "stop":
                break
            reply = {"ready": True} if q["request"] == "start" else {"id": q["id"], "result": q["inputs"]["field_resistance"]}
            print(json.dumps(reply), flush=True)
        """
    script = tmp_path / "ahead.py"
    script.write_text(textwrap.dedent(program), encoding="utf-8")
    target = command_target(f"{sys.executable} -u {script}", SUITE, limits=Limits(case_seconds=20.0))
    assert statuses(target)[0][:3] == ["passed"] * 3


@pytest.mark.parametrize(
    "command", ["", "'unclosed", "no-such-program-anywhere", f"{sys.executable} -c 'print(1)'", "true"]
)
def test_a_command_that_cannot_be_spoken_with_is_unusable_input(command):
    with pytest.raises(ValueError, match=r"command|started|ready"):
        command_target(command, SUITE, limits=QUICK)


@pytest.mark.parametrize(("name", "value"), [("case_seconds", 0.0), ("case_seconds", float("nan")), ("memory_mb", 1),
                                             ("restarts", -1)])  # fmt: skip
def test_limits_must_make_sense(name, value):
    with pytest.raises(ValueError, match=name):
        Limits(**{name: value})


def test_neither_child_nor_grandchild_is_left_behind(tmp_path):
    marker = tmp_path / "grandchild.py"
    marker.write_text("import time\ntime.sleep(60)\n", encoding="utf-8")
    statuses(lab(tmp_path, f"import subprocess, sys; subprocess.Popen([sys.executable, {str(marker)!r}])"))
    time.sleep(0.2)
    if Path("/proc").exists():
        assert [p for p in os.listdir("/proc") if p.isdigit() and str(tmp_path) in _command_line(p)] == []


def _command_line(process):
    try:
        return Path(f"/proc/{process}/cmdline").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
