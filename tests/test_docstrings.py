"""Every public name explains itself: units, shapes, errors, source, and an example that runs.

Public are the names of ``shuntref.__all__``, of every room's ``__all__``, of ``shuntref.model.formulas``, of
``shuntref.provenance``, and of the modules of the room ``explanation``, whose names the room's own face cannot carry (its
functions are called like their modules), together with the public methods of public classes. For these everything below is
asked; of the methods, which share the units of their class, a sentence. Every other name that a module lists in its own
``__all__`` is used inside the house only: a sentence is asked of it.

The examples themselves are run as doctests, by ``--doctest-modules`` over the package.
"""

from __future__ import annotations

import ast
import dataclasses
import enum
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

import shuntref
from shuntref.model import formulas
from shuntref.quantities.registry import REGISTRY
from shuntref.theory.formula_forms import ALIASES  # what a formula's argument stands for
from shuntref.theory.laws import law

ROOMS = ("quantities", "theory", "model", "exercises", "conformance", "bench")
FACES = ("shuntref", *(f"shuntref.{room}" for room in ROOMS), "shuntref.model.formulas", "shuntref.provenance",
         "shuntref.explanation.account", "shuntref.explanation.ruling", "shuntref.explanation.words")  # fmt: skip
#: calls that refuse what they are given, by name: a function that makes one raises
REFUSING = frozenset({"refuse", "scalar", "check_array", "_checked", "parse_value", "parse_values", "read_value"})
#: classes that a public function makes and a user only reads: the example stands at the function
MADE = frozenset({
    "Account", "Bench", "BenchLog", "BenchPlan", "BulkSpeed", "Derivation", "Exercise", "Law", "Marked", "Part", "Reduction",
    "Ruling", "Situation", "SizedResistance", "Solution", "StartPlan", "StarterGrading", "SteadyState", "Theorem", "Turning",
    "Verdict", "WrittenValue",
})  # fmt: skip
#: methods that the house calls, not the user: of these a sentence is enough
INNER = re.compile(
    r"\w+_at|terms|coordinate|called|field_current_for|given|instrument_for|listing|refused|with_readings"
)
#: functions of the physical rooms that read, write, look up or put in words, and follow from no law
NO_LAW = re.compile(
    r"(load|save)_\w+|\w+_from_\w+|\w+_to_text|\w+_text|\w+_words|read_\w+|demo_\w+|render|symbol|law|all_laws|adding_up|reduction_page"
)


def public_objects() -> dict[str, Any]:
    """Every public function and class by where it is defined, and every other public value by where it is offered."""
    found: dict[str, Any] = {}
    for face in FACES:
        module = importlib.import_module(face)
        for name in module.__all__:
            value = getattr(module, name)
            if isinstance(value, ModuleType):
                continue
            if callable(value) and not inspect.isclass(value):
                value = inspect.unwrap(value)  # behind a cache
            own = inspect.isfunction(value) or inspect.isclass(value)
            found[f"{value.__module__}.{value.__qualname__}" if own else f"{face}.{name}"] = value
    return found


PUBLIC = public_objects()
FUNCTIONS = {name: value for name, value in PUBLIC.items() if inspect.isfunction(value)}
CLASSES = {name: value for name, value in PUBLIC.items() if inspect.isclass(value)}
FORMULAS = {name for name in FUNCTIONS if re.fullmatch(r"shuntref\.model\.\w+_formulas\.\w+", name)}


# --- what is wrong with a docstring


def sections(doc: str) -> dict[str, str]:
    """The sections of a docstring by heading; what stands above the first under no heading."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}\n?", doc, flags=re.M)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def parameter_texts(section: str) -> dict[str, str]:
    """What a Parameters section says of each name; several names may share a line."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            head, _, rest = line.partition(":")
            names = [name.strip().lstrip("*") for name in head.split(",")]
            for name in names:
                found[name] = rest
        else:
            for name in names:
                found[name] += " " + line.strip()
    return found


def parameters_of(value: Any) -> tuple[str, ...]:
    """Names that a caller may give, to a function or to the constructor of a class."""
    if inspect.isclass(value):
        if dataclasses.is_dataclass(value) and "__init__" not in value.__dict__:
            return tuple(field.name for field in dataclasses.fields(value) if field.init)
        if "__init__" not in value.__dict__:
            return ()
    names = inspect.signature(value).parameters
    return tuple(name for name in names if name not in ("self", "cls"))


def raises(value: Any) -> bool:
    """Whether a function refuses something itself: a ``raise`` in it, or a call of one of ``REFUSING``."""
    for node in ast.walk(ast.parse(textwrap.dedent(inspect.getsource(value)))):
        if isinstance(node, ast.Raise):
            return True
        if isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in REFUSING:
                return True
    return False


def returns(value: Any) -> bool:
    """Whether a function gives something back."""
    told = inspect.signature(value).return_annotation
    return told not in (None, "None", inspect.Signature.empty)


def unit_of(parameter: str) -> str:
    """The unit of a parameter that is a quantity; empty otherwise."""
    meaning = {"net_voltage": "supply_voltage"}.get(parameter) or str(
        ALIASES[parameter]() if parameter in ALIASES else parameter
    )
    return REGISTRY[meaning].unit if meaning in REGISTRY else ""


def _about_parameters(value: Any, parts: dict[str, str]) -> Iterator[str]:
    names = parameters_of(value)
    if names and "Parameters" not in parts:
        yield "has no Parameters"
        return
    told = parameter_texts(parts.get("Parameters", ""))
    for name in names:
        if name not in told:
            yield f"does not explain the parameter {name}"
        elif unit_of(name) in ("", "1") or not _numeric(value, name):
            continue
        elif not re.search(r"\[[^\]]+\]", told[name]):
            yield f"gives no unit in brackets for {name}, which is in {unit_of(name)}"
        elif f"[{unit_of(name)}]" not in _flat(told[name]):
            yield f"gives {name} in {told[name].strip()!r}; the registry says [{unit_of(name)}]"
    for name in told:
        if name not in names:
            yield f"explains {name}, which is no parameter"


def _flat(text: str) -> str:
    """``[ohm, ohm, V]`` counts as ``[ohm] [ohm] [V]``."""
    return re.sub(r"\[([^\]]+)\]", lambda match: " ".join(f"[{unit.strip()}]" for unit in match[1].split(",")), text)


def _numeric(value: Any, name: str) -> bool:
    """Whether a parameter is a number, and not a text, a function or an object that happens to bear a quantity's name."""
    owner = value.__init__ if inspect.isclass(value) else value
    note = (
        str(inspect.signature(owner).parameters[name].annotation)
        if name in inspect.signature(owner).parameters
        else "Any"
    )
    return any(word in note for word in ("float", "int", "Any", "Value"))


def faults_of_function(name: str, value: Any) -> list[str]:
    """All that is missing from the docstring of a public function or method."""
    doc = inspect.getdoc(value) or ""
    if not doc.strip():
        return ["has no docstring"]
    parts = sections(doc)
    found = [] if parts[""].strip() else ["has no sentence"]
    found += _about_parameters(value, parts)
    if returns(value) and not {"Returns", "Yields"} & set(parts):
        found.append("does not say what it returns")
    if raises(value) and "Raises" not in parts:
        found.append("raises, and does not say so")
    if ">>>" not in parts.get("Examples", ""):
        found.append("has no example")
    physical = re.match(r"shuntref\.(model|theory|bench|explanation)\.\w+\.(\w+)$", name) and name not in FORMULAS
    if physical and not NO_LAW.fullmatch(value.__name__) and not {"Notes", "References"} & set(parts):
        found.append("has neither Notes nor References that say what it rests on")
    if name in FORMULAS and not name.endswith(".square_root"):
        found += _about_laws(parts.get("Notes", ""))
        if not re.match(r"\[[^\]]+\]", parts.get("Returns", "")):
            found.append("does not say the unit of what it returns")
    return found


def _about_laws(notes: str) -> Iterator[str]:
    said = re.match(r"Laws? ([\w\s,-]+)\.", notes)
    if said is None:
        yield "does not name the laws it follows from"
        return
    for slug in re.split(r",\s*", said[1].replace("\n", " ")):
        try:
            law(slug.strip())
        except ValueError:
            yield f"names the law {slug!r}, which the theory does not have"


def faults_of_class(name: str, value: Any) -> list[str]:
    """All that is missing from the docstrings of a public class and of its public methods."""
    doc = value.__doc__ or ""
    if not doc.strip() or doc.startswith(f"{value.__name__}("):  # what dataclass writes by itself is no docstring
        return ["has no docstring"]
    parts = sections(inspect.cleandoc(doc))
    found = []
    made = value.__name__ in MADE
    if not issubclass(value, (BaseException, enum.Enum)):
        if not made:
            found += _about_parameters(value, parts)
            if parameters_of(value) and _constructor_raises(value) and "Raises" not in parts:
                found.append("its constructor raises, and it does not say so")
        if not made and parameters_of(value) and ">>>" not in parts.get("Examples", ""):
            found.append("has no example")
    for method, function in inspect.getmembers(value):
        if not inspect.isfunction(function) and not isinstance(function, property):
            continue
        plain = function.fget if isinstance(function, property) else function
        if method.startswith("_") or not plain.__module__.startswith("shuntref"):
            continue
        if not (inspect.getdoc(getattr(value, method)) or "").strip():
            found.append(f"its {method} has no docstring")
        elif inspect.isfunction(function) and not INNER.fullmatch(method):
            full = getattr(value, method)
            found += [f"its {method} {fault}" for fault in faults_of_function(f"{name}.{method}", full)]
    return found


def _constructor_raises(value: Any) -> bool:
    own = (value.__dict__.get(name) for name in ("__init__", "__post_init__"))
    here = inspect.getsourcefile(value)  # what dataclass writes by itself stands in no file
    return any(inspect.isfunction(method) and method.__code__.co_filename == here and raises(method) for method in own)


# --- the tests


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_a_public_function_explains_itself(name: str) -> None:
    assert faults_of_function(name, FUNCTIONS[name]) == []


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_a_public_class_explains_itself(name: str) -> None:
    assert faults_of_class(name, CLASSES[name]) == []


def test_a_class_without_an_example_is_made_by_a_function_that_has_one() -> None:
    made_by = {name: [] for name in MADE}
    for function in FUNCTIONS.values():
        told = str(inspect.signature(function).return_annotation)
        if told in made_by and ">>>" in (inspect.getdoc(function) or ""):
            made_by[told].append(function)
    inside = {"Part", "Situation", "Turning"}  # parts of an account and of its ruling
    assert {name for name, makers in made_by.items() if not makers} == inside
    assert set(MADE) <= {value.__name__ for value in CLASSES.values()}, "a class is excused that is not public"


def explained_values(source: str) -> set[str]:
    """Names set at the top of a module under a line that begins with ``#:``, in one go with such a line, or with a remark."""
    lines, found = source.splitlines(), set()
    for node in ast.parse(source).body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = {word.id for target in targets for word in ast.walk(target) if isinstance(word, ast.Name)}
            above = lines[node.lineno - 2] if node.lineno > 1 else ""
            under = above.startswith("#:") or any(above.startswith(f"{name} = ") for name in found)
            if under or "  # " in lines[node.lineno - 1]:
                found |= names
    return found


def test_other_public_values_are_explained_where_they_are_set() -> None:
    others = {name: value for name, value in PUBLIC.items() if name not in FUNCTIONS and name not in CLASSES}
    documented = {name for _, module in modules() for name in explained_values(inspect.getsource(module))}
    told = {"__version__"} | documented
    assert {name for name in others if name.rpartition(".")[2] not in told} == set()


def modules() -> Iterator[tuple[str, ModuleType]]:
    """Every module of the package."""
    for entry in pkgutil.walk_packages(shuntref.__path__, "shuntref."):
        if not entry.name.endswith("__main__"):
            yield entry.name, importlib.import_module(entry.name)


def test_every_name_that_a_module_offers_has_a_sentence() -> None:
    silent, checked = [], 0
    for name, module in modules():
        assert (module.__doc__ or "").strip(), f"{name} says not what it is for"
        for word in getattr(module, "__all__", ()):
            value = getattr(module, word)
            own = str(getattr(value, "__module__", "")).startswith("shuntref")
            if own and (inspect.isfunction(value) or inspect.isclass(value)):
                checked += 1
                doc = value.__doc__ or ""
                if not doc.strip() or doc.startswith(f"{word}("):
                    silent.append(f"{value.__module__}.{word}")
    assert sorted(set(silent)) == []
    print(f"figure: docstrings: {len(PUBLIC)} public names ({len(FORMULAS)} formulas) in full, {checked} offered names")


def test_every_face_lists_names_that_are_there() -> None:
    for face in FACES:
        module = importlib.import_module(face)
        assert len(set(module.__all__)) == len(module.__all__)
        assert all(getattr(module, name, None) is not None for name in module.__all__), face
        if face.count(".") < 2 and hasattr(module, "_PUBLIC"):
            with pytest.raises(AttributeError, match="no attribute 'nothing'"):
                _ = module.nothing
    assert len(formulas.__all__) > 70
    for name in FORMULAS:  # what is true of every formula's arguments is said once for each module
        assert "broadcast" in (importlib.import_module(name.rpartition(".")[0]).__doc__ or ""), name


# --- that the tests can fail


def _no_unit(supply_voltage: float) -> float:
    """A sentence.

    Parameters
    ----------
    supply_voltage : float

    Returns
    -------
    float

    Examples
    --------
    >>> 1
    1
    """
    return supply_voltage


def _wrong_unit(supply_voltage: float, other: int) -> float:
    """A sentence.

    Parameters
    ----------
    supply_voltage : float
        [A] What it is not.

    Examples
    --------
    >>> 1
    1
    """
    if supply_voltage < 0.0:
        raise ValueError("negative")
    return supply_voltage


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (lambda supply_voltage: supply_voltage, ["no docstring"]),
        (_no_unit, ["no unit in brackets for supply_voltage"]),
        (_wrong_unit, ["the registry says [V]", "explain the parameter other", "what it returns", "raises, and does not say"]),
    ],
)  # fmt: skip
def test_a_bad_docstring_is_found_out(function: Callable[..., float], words: list[str]) -> None:
    found = " / ".join(faults_of_function("name", function))
    assert all(word in found for word in words), found


@pytest.mark.parametrize(
    ("heading", "words"),
    [("Parameters", "has no Parameters"), ("Returns", "what it returns"), ("Examples", "no example"), ("Notes", "the laws it")],
)  # fmt: skip
def test_a_section_taken_away_is_missed(heading: str, words: str) -> None:
    name = "shuntref.model.speed_formulas.speed_from_torque"
    full = inspect.getdoc(FUNCTIONS[name]) or ""

    def copy(supply_voltage: Any, k_phi: Any, torque: Any, resistance: Any) -> Any:
        return supply_voltage

    copy.__doc__ = full
    assert faults_of_function(name, copy) == []
    copy.__doc__ = re.sub(rf"{heading}\n-+\n.*?(?=\n\n\w+\n---|\Z)", "", full, flags=re.S)
    assert any(words in fault for fault in faults_of_function(name, copy))


def test_a_law_that_is_none_is_found_out() -> None:
    assert list(_about_laws("Law armature-emf.")) == []
    assert "which the theory does not have" in next(_about_laws("Laws armature-emf, no-such-law."))
