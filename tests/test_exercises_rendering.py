"""Worked solutions as they are handed out, and the command that prints them."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

import shuntref.cli
from shuntref.cautions import CAUTIONS
from shuntref.cli.exercises import solve as solve_command
from shuntref.exercises.evidence import checks
from shuntref.exercises.library import reference_exercise, reference_exercise_names, source_line
from shuntref.exercises.rendering import FORMATS, render
from shuntref.exercises.solver import solve
from shuntref.exercises.statement_file import exercise_from_text
from shuntref.exercises.writing import LatexWriter, TextWriter, number_text

FIELD = "theraja-same-torque-field-rheostat"


@pytest.mark.parametrize("name", reference_exercise_names())
def test_every_solution_prints_in_every_format(name: str) -> None:
    solution = solve(reference_exercise(name))
    for form in FORMATS:
        text = render(solution, form)
        assert text.endswith("\n")
        assert "None" not in text
        assert not re.search(r"\b(nan|inf)\b", text)
        for answer in solution.answers.values():
            assert answer.text.split()[0] in text
    assert max(len(line) for line in render(solution).splitlines()) <= 130


@pytest.mark.parametrize("name", reference_exercise_names())
def test_the_last_side_of_every_formula_is_the_value_of_the_step(name: str) -> None:
    """The printed substitution, worked out again from the printed numbers alone, gives the printed result."""
    solution = solve(reference_exercise(name))
    text = render(solution)
    checked = 0
    for block in re.findall(r"^ +([\w']+) = [^\n]*\n +  = ([^\n]*)\n +  = ([^\n]*)$", text, re.M):
        symbol, numbers, result = block
        arithmetic = re.sub(
            r"(?<=[\d)]) (?:V s/\(rad A\)|V s/rad|rad/s|r/min|N m|ohm|Wb|A/A|[VAW])(?![\w])", "", numbers
        )
        arithmetic = arithmetic.replace("×", "*").replace("·", "*").replace("²", "**2").replace("^", "**")
        if not re.fullmatch(r"[\d.e+*/() -]+", arithmetic.replace("pi", "3.141592653589793")):
            continue  # roots and logarithms are not arithmetic of the four kinds
        worked_out = _arithmetic(arithmetic.replace("pi", "3.141592653589793"))
        printed = float(result.split()[0])
        allowed = 1e-4 * abs(printed) + _lost_to_five_figures(arithmetic.replace("pi", "3.141592653589793"))
        assert abs(worked_out - printed) <= allowed, (symbol, numbers)
        checked += 1
    assert checked or "because" in text or len(solution.steps) < 3


def _lost_to_five_figures(arithmetic: str) -> float:
    """How far the result may be off because every number in it is printed to five figures."""
    value, lost = _arithmetic(arithmetic), 0.0
    for number in re.finditer(r"\d+\.\d+", arithmetic):
        moved = f"{float(number.group()) * (1 + 5e-5):.15f}"
        lost += abs(_arithmetic(arithmetic[: number.start()] + moved + arithmetic[number.end() :]) - value)
    return lost


def _arithmetic(text: str) -> float:
    """A reader of sums, products, quotients and powers: the test evaluates what a student would key in."""
    tokens = re.findall(r"\*\*|[-+*/()]|\d+(?:\.\d+)?(?:e-?\d+)?", text)
    place = 0

    def peek() -> str:
        return tokens[place] if place < len(tokens) else ""

    def take() -> str:
        nonlocal place
        place += 1
        return tokens[place - 1]

    def total() -> float:
        value = product()
        while peek() in ("+", "-"):
            value = value + product() if take() == "+" else value - product()
        return value

    def product() -> float:
        value = power()
        while peek() in ("*", "/"):
            value = value * power() if take() == "*" else value / power()
        return value

    def power() -> float:
        if peek() == "-":
            take()
            return -power()
        value = atom()
        if peek() == "**":
            take()
            return float(value ** power())
        return value

    def atom() -> float:
        if peek() == "(":
            take()
            value = total()
            assert take() == ")"
            return value
        return float(take())

    value = total()
    assert place == len(tokens)
    return value


@pytest.mark.parametrize("name", reference_exercise_names())
def test_latex_is_balanced_and_escaped(name: str) -> None:
    text = render(solve(reference_exercise(name)), "latex")
    assert text.count("{") - text.count(r"\{") == text.count("}") - text.count(r"\}")
    assert text.count(r"\[") == text.count(r"\]")
    assert text.count(r"\left(") == text.count(r"\right)")
    assert text.count(r"\begin{") == text.count(r"\end{")
    outside = re.sub(r"\\\[.*?\\\]|\$[^$]*\$", "", text)
    assert not re.search(r"(?<!\\)[%&#_^]", outside), re.search(r".{20}(?<!\\)[%&#_^].{20}", outside)


def test_formulas_are_read_by_an_independent_mathematics_reader() -> None:
    from matplotlib.mathtext import MathTextParser

    parser = MathTextParser("path")
    for name in (FIELD, "theraja-six-sections", "theraja-maximum-efficiency", "theraja-29-torques-flux-and-efficiency"):
        for formula in re.findall(r"\\\[ (.*?) \\\]", render(solve(reference_exercise(name)), "latex")):
            if r"\text" not in formula:
                parser.parse(f"${formula}$")


def test_the_states_are_named_and_their_symbols_numbered() -> None:
    text = render(solve(reference_exercise(FIELD)))
    for line in ("state 1: before", "state 2: after", "I_a1 = 20 A", "T_e2 = T_e1"):
        assert line in text


def test_the_root_remark_names_both_roots_and_what_the_other_would_give() -> None:
    text = " ".join(render(solve(reference_exercise(FIELD))).split())
    assert "Real roots: 27.065 A and 472.93 A" in text
    assert "the root with the smaller armature current is taken" in text.lower()
    assert "The other root, I_a2 = 472.93 A, would give: added resistance 5662 ohm" in text


def test_cautions_stand_where_a_resistor_or_a_start_is_suggested_and_only_there() -> None:
    assert CAUTIONS[0] in render(solve(reference_exercise(FIELD)))
    assert CAUTIONS[0] in render(solve(reference_exercise("theraja-six-sections")), "latex")
    assert CAUTIONS[0] in render(solve(reference_exercise("chapman-p8-21-residual-curve")), "markdown")
    assert CAUTIONS[0] not in render(solve(reference_exercise("bird-22-shunt-motor-circuit")))


def test_the_source_line_says_what_was_seen_and_what_is_memory() -> None:
    line = source_line(reference_exercise("chapman-p8-21-residual-curve"))
    assert "S. J. Chapman" in line
    assert "statement seen, answer from memory" in line


def test_an_unknown_format_is_refused() -> None:
    with pytest.raises(ValueError, match="accepted are text, markdown, latex"):
        render(solve(reference_exercise(FIELD)), "html")


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (-0.5, "-0.5"), (1500.0, "1500"), (1e-7, "1e-7"), (123456.789, "123457"), (3.14159265, "3.1416"),
     (2.5e9, "2.5e9"), (0.1 + 0.2, "0.3")],
)  # fmt: skip
def test_numbers_have_as_many_figures_as_help(value: float, text: str) -> None:
    assert number_text(value) == text


def test_minus_signs_and_powers_are_written_as_a_teacher_would() -> None:
    exercise = reference_exercise("bird-16-emf-both-ways")
    text = render(solve(exercise))
    assert "(-100 A) × 0.25 ohm" in text
    assert TextWriter(exercise).power("40 A", "2", True) == "(40 A)²"
    assert LatexWriter(exercise).power(r"k\Phi", "2", False) == r"\left(k\Phi\right)^{2}"


# --- the command


def run(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(solve_command, list(arguments))
    return result.exit_code, result.output


def test_solve_prints_the_solution_of_a_file_and_of_a_published_exercise(tmp_path: Path) -> None:
    file = tmp_path / "homework.toml"
    readme = Path(__file__).parents[1] / "references" / "README.md"
    file.write_text(re.findall(r"```toml\n(.*?)```", readme.read_text(encoding="utf-8"), re.S)[0], encoding="utf-8")
    status, output = run(str(file))
    assert status == 0
    assert "n_2 = 1115 r/min" in output
    status, output = run(FIELD, "--format", "markdown")
    assert status == 0
    assert output.startswith("# Field resistance")


def test_solve_gives_json() -> None:
    status, output = run(FIELD, "--json")
    document = json.loads(output)
    assert status == 0
    answer = document["answers"]["added-resistance"]
    assert answer["agrees"] is True
    assert answer["unit"] == "ohm"
    assert answer["accepted"][0] <= answer["value"] <= answer["accepted"][1]
    assert document["roots"][0]["others"][0]["answers"]["added-resistance"] > 5000
    assert document["cautions"]


def test_solve_says_so_when_the_printed_answer_does_not_follow(tmp_path: Path) -> None:
    file = tmp_path / "wrong.toml"
    source = Path(str(reference_file(FIELD))).read_text(encoding="utf-8")
    file.write_text(source.replace('value = "88 ohm"', 'value = "86 ohm"'), encoding="utf-8")
    status, output = run(str(file))
    assert status == 1
    assert "does NOT agree" in output


def reference_file(name: str) -> Path:
    return Path(__file__).parents[1] / "references" / "exercises" / f"{name}.toml"


@pytest.mark.parametrize("content", [b"", b"a = [", b"\xff\xfe", b"x" * 200_000])
def test_an_unusable_file_gives_one_line_and_status_2(
    content: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bad.toml"
    file.write_bytes(content)
    with pytest.raises(SystemExit) as exit_status:
        shuntref.cli.main(["solve", str(file)])
    assert exit_status.value.code == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "bad.toml" in error
    assert "Traceback" not in error


# --- the evidence


def test_the_evidence_holds_a_passing_check_for_every_printed_answer() -> None:
    found = list(checks())
    printed = sum(answer.printed is not None for name in reference_exercise_names()
                  for answer in reference_exercise(name).answers.values())  # fmt: skip
    published = [check for check in found if check.group == "published exercises"]
    assert len(published) == printed >= 200
    assert all(check.source for check in published)
    assert sum(check.group == "published exercises, numeric model" for check in found) >= 40
    assert [check for check in found if not check.passed] == []


def test_the_evidence_fails_for_a_wrong_figure(monkeypatch: pytest.MonkeyPatch) -> None:
    text = reference_file(FIELD).read_text(encoding="utf-8").replace('value = "88 ohm"', 'value = "89 ohm"')
    moved = exercise_from_text(text, name=FIELD)
    where = "shuntref.exercises.evidence"
    monkeypatch.setattr(f"{where}.reference_exercise_names", lambda kind: [FIELD] if kind == "exercises" else [])
    monkeypatch.setattr(f"{where}.reference_exercise", lambda name, kind: moved)
    outcome = {check.statement: check.passed for check in checks()}
    assert outcome[f"{FIELD}: added resistance"] is False
