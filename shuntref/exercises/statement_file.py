"""Reading an exercise file: TOML in, a checked :class:`Exercise` out; everything doubtful is refused by name."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from shuntref.exercises.answer_rule import AnswerRule
from shuntref.exercises.file_table import FileTable
from shuntref.exercises.statement import (
    STARTER,
    Answer,
    Entry,
    Exercise,
    ExerciseError,
    Provenance,
    Ref,
    RootRule,
    State,
)
from shuntref.exercises.statement_parts import read_flux, read_links, read_losses, read_starter
from shuntref.exercises.statement_sense import check_sense
from shuntref.quantities.near_names import did_you_mean
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.units import HORSEPOWER_CONVENTIONS

__all__ = ["exercise_from_text", "load_exercise", "parse_reference"]

LARGEST_FILE = 100_000
_MOST_STATES, _MOST_ANSWERS, _MOST_LINKS = 40, 200, 200
_NEGLECT = ("armature-drop", "field-current", "rotational-loss")
_TOP = ("title", "statement", "assumptions", "note", "label", "invented", "connection", "winding", "horsepower", "neglect",
        "surplus", "shared", "state", "flux", "link", "losses", "starter", "root", "answer", "source")  # fmt: skip
#: brackets within brackets, or a key of a dozen parts: such text costs a reader much and says nothing
_TOO_DEEP = re.compile(r"""[\[{]\s*(?:[\[{]\s*){8}|(?:\.[ \t]*(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)[ \t]*){12}""")
_STATE_KEYS = ("action", "neglect", "condition", "label")
_REFERENCE = re.compile(r"(?:(?P<state>[a-z0-9-]{1,40})\.)?(?P<quantity>[a-z_]{1,40})(?:\[(?P<index>[0-9]{1,3})\])?")


def load_exercise(path: str | os.PathLike[str]) -> Exercise:
    """Read an exercise file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Exercise

    Raises
    ------
    ExerciseError
        The file is not an exercise; the message names the file, the table, the key and what is accepted.
    OSError
        The file cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> folder = tempfile.TemporaryDirectory()
    >>> path = Path(folder.name) / "back-emf.toml"
    >>> written = path.write_text('''
    ... title = "Back EMF"
    ... statement = "A 240 V motor of 0.2 ohm takes 50 A. Find the back EMF."
    ... invented = true
    ... [state.running]
    ... supply_voltage = "240 V"
    ... armature_resistance = "0.2 ohm"
    ... armature_current = "50 A"
    ... [answer.back-emf]
    ... of = "back_emf"
    ... value = "230 V"
    ... ''')
    >>> load_exercise(path).title
    'Back EMF'
    >>> folder.cleanup()
    """
    file = Path(path)
    with file.open("rb") as stream:
        content = stream.read(LARGEST_FILE + 1)
    try:
        if len(content) > LARGEST_FILE:
            raise ExerciseError(f"larger than {LARGEST_FILE} bytes; no exercise is")
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise ExerciseError(f"not UTF-8 text (byte {error.start}); save it as UTF-8") from None
        return exercise_from_text(text, name=file.stem)
    except ExerciseError as error:
        raise ExerciseError(f"{file.name}: {error}") from None


def exercise_from_text(text: str, *, name: str = "") -> Exercise:
    """Read an exercise from the text of its file.

    Parameters
    ----------
    text
        TOML in the format of ``references/README.md``, at most 100 000 characters.
    name
        Name of the exercise, by custom the file's without its ending.

    Returns
    -------
    Exercise

    Raises
    ------
    ExerciseError
        See :func:`load_exercise`.

    Examples
    --------
    >>> exercise = exercise_from_text('''
    ... title = "Back EMF"
    ... statement = "A 240 V motor of 0.2 ohm takes 50 A. Find the back EMF."
    ... [state.running]
    ... supply_voltage = "240 V"
    ... armature_resistance = "0.2 ohm"
    ... armature_current = "50 A"
    ... [answer.emf]
    ... of = "back_emf"
    ... value = "230 V"
    ... ''')
    >>> str(exercise.answers["emf"].of)
    'running.back_emf'
    """
    if len(text) > LARGEST_FILE:
        raise ExerciseError(f"a text of {len(text)} characters is not an exercise; at most {LARGEST_FILE}")
    if _TOO_DEEP.search(text):
        raise ExerciseError("nested deeper than any exercise is")
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ExerciseError(
            f'not TOML: {error}; every value with a unit stands in quotes, such as line_current = "20 A"'
        ) from None
    except (RecursionError, ValueError, OverflowError):
        raise ExerciseError("not TOML that an exercise could need: nested too deep, or a number out of range") from None
    return _exercise(content, name)


def parse_reference(
    text: str, states: Collection[str], where: str, *, shared: Collection[str] = (), single: bool = True
) -> Ref:
    """Turn ``"after.speed"`` into a :class:`Ref`; a bare quantity is shared, or belongs to the only state.

    Raises
    ------
    ExerciseError
        An unknown state or quantity, or a bare quantity when several states could be meant.

    Examples
    --------
    >>> parse_reference("after.speed", ["before", "after"], "[answer.n]")
    Ref(state='after', quantity='speed', index=0)
    """
    match = _REFERENCE.fullmatch(text.strip())
    if match is None:
        raise ExerciseError(f"{where}: {text[:60]!r} is not a reference; write state.quantity, such as 'after.speed'")
    state, name, index = match["state"] or "", match["quantity"], int(match["index"] or 0)
    if name not in REGISTRY:
        raise ExerciseError(f"{where}: unknown quantity {name!r}{did_you_mean(name, REGISTRY)}")
    if state and state not in states:
        raise ExerciseError(
            f"{where}: there is no state {state!r}{did_you_mean(state, states)}; there are {', '.join(states)}"
        )
    if not state and name not in shared and single:
        running = [known for known in states if known != STARTER]
        if len(running) == 1:
            state = running[0]
        elif not running and STARTER in states:
            state = STARTER
        else:
            raise ExerciseError(
                f"{where}: {name!r} of which state? write for example {f'{running[-1]}.{name}'!r}"
                if running
                else f"{where}: there is no state that could have {name!r}"
            )
    if index and state != STARTER:
        raise ExerciseError(f"{where}: only the starter's quantities are counted, not {text.strip()!r}")
    return Ref(state, name, index)


def _quantities(table: FileTable, own_keys: Collection[str]) -> dict[str, Entry]:
    """Take everything that is left in ``table`` as quantity = value."""
    found: dict[str, Entry] = {}
    for key in list(table.content):
        if key in own_keys:
            continue
        if key not in REGISTRY:
            raise ExerciseError(
                f"{table.where}: unknown quantity {key[:60]!r}{did_you_mean(key, [*REGISTRY, *own_keys])}"
            )
        raw = table.content.pop(key)
        rotation = key == "speed" and isinstance(raw, str) and "rad" not in raw
        name = "speed_rpm" if rotation else key
        if raw == "unknown":
            found["speed" if key == "speed_rpm" else key] = None
            continue
        if name in found:
            raise table.error(key, "the speed is given twice")
        found[name] = table.checked(key, name, raw)
    return found


def _state(name: str, table: FileTable) -> State:
    action = table.choice("action", ("motor", "generator"), "motor")
    neglect = frozenset(table.texts("neglect", _NEGLECT))
    condition = table.choice("condition", ("maximum-efficiency",), "")
    label = table.text("label", name.replace("-", " "))
    return State(name, _quantities(table, _STATE_KEYS), action, neglect, condition, label)


def _answer(name: str, table: FileTable, refer: Any) -> Answer:
    of = refer(table.text("of"), f"{table.where} of")
    kind, against = "value", None
    for key, word in (("over", "quotient"), ("change_from", "change"), ("decrease_from", "decrease")):
        if table.has(key):
            if against is not None:
                raise table.error(key, "only one of over, change_from and decrease_from is possible")
            kind, against = word, refer(table.text(key), f"{table.where} {key}")
    raw = table.content.get("value", "")
    if kind != "value":
        quantity = "torque_ratio"  # any pure number, of either sign
    elif of.quantity in ("speed", "speed_rpm"):
        quantity = "speed" if isinstance(raw, str) and "rad" in raw else "speed_rpm"
        of = Ref(of.state, quantity)
    else:
        quantity = of.quantity
    if of == against:
        raise table.error("of", f"{of} is compared with itself")
    printed = table.optional_value("value", quantity)
    step, tolerance = table.optional_value("step", quantity), table.optional_value("tolerance", quantity)
    relative = table.optional_value("relative_tolerance", "torque_ratio")
    rounding = table.choice("rounding", ("nearest", "truncated", "up"), "nearest")
    reason, disagrees = table.text("reason", ""), table.flag("disagrees")
    for key, item in (("step", step), ("tolerance", tolerance), ("relative_tolerance", relative)):
        if item is not None and item.value <= 0:
            raise table.error(key, f"{item.text!r} must be above 0")
    if sum(item is not None for item in (step, tolerance, relative)) > 1:
        raise table.error("tolerance", "only one of step, tolerance and relative_tolerance is possible")
    if (tolerance or relative or disagrees) and not reason:
        raise ExerciseError(f'{table.where}: a tolerance or a disagreement needs its reason in words: reason = "..."')
    if printed is None and (step or tolerance or relative or disagrees):
        raise ExerciseError(f"{table.where}: a rule without a printed value")
    limits = [item.value if item else None for item in (step, tolerance, relative)]
    rule = AnswerRule(rounding, limits[0], limits[1], limits[2], reason)
    slip = table.text("explained_by", "")
    if slip and not (disagrees and re.fullmatch(r"[a-z0-9-]{1,80}", slip)):
        raise table.error("explained_by", "the name of a slip, for a printed figure with disagrees = true")
    answer = Answer(name, of, kind, against, printed, rule, disagrees, table.text("printed_as", ""),
                    table.text("label", name.replace("-", " ")), slip)  # fmt: skip
    table.finish(("of", "value", "over", "change_from", "decrease_from", "rounding", "step", "tolerance",
                  "relative_tolerance", "reason", "disagrees", "printed_as", "label", "explained_by"))  # fmt: skip
    return answer


def _source(table: FileTable | None) -> Provenance | None:
    if table is None:
        return None
    seen = ("seen", "from memory")
    source = Provenance(
        table.text("id"), table.text("place", ""), table.choice("statement", seen), table.choice("answer", seen),
        table.choice("confidence", ("high", "medium", "low", "not stated"), "not stated"),
        table.choice("agreement", ("exact", "last-digit", "chained-rounding", "differs"), ""),
        table.text("address", ""), table.text("note", ""),
    )  # fmt: skip
    table.finish(("id", "place", "statement", "answer", "confidence", "agreement", "address", "note"))
    return source


def _exercise(content: Mapping[str, Any], name: str) -> Exercise:
    top = FileTable(content, "top level")
    for key in content:
        if key not in _TOP:
            raise ExerciseError(
                f"unknown table or key {key[:60]!r}{did_you_mean(key, _TOP) or '; accepted are ' + ', '.join(_TOP)}"
            )
    horsepower = top.choice("horsepower", tuple(HORSEPOWER_CONVENTIONS), "mechanical")
    top.horsepower = horsepower
    shared_table = top.table("shared")
    shared = _quantities(shared_table, ()) if shared_table else {}
    states = {key: _state(key, table) for key, table in top.tables("state").items()}
    if STARTER in states:
        raise ExerciseError("[state.starter]: this name belongs to the [starter] table; call the state something else")
    names = list(states)
    starter = read_starter(top.table("starter"), names)
    known = [*names, STARTER] if starter else names
    if not known:
        raise ExerciseError("there is no state; write for example [state.running]")

    missing = [f"{key!r}" for key in ("title", "statement") if not top.has(key)]
    if missing:
        keys = "keys" if len(missing) > 1 else "key"
        raise ExerciseError(
            f"top level: the {keys} {' and '.join(missing)} {'are' if len(missing) > 1 else 'is'} missing; "
            f'any text will do, above the first table, such as title = "Homework 1"'
        )

    def refer(text: str, where: str) -> Ref:
        return parse_reference(text, known, where, shared=shared)

    exercise = Exercise(
        title=top.text("title"),
        statement=top.text("statement"),
        states=states,
        answers={key: _answer(key, table, refer) for key, table in top.tables("answer").items()},
        shared=shared,
        flux=read_flux(top.table("flux"), names),
        links=read_links(top.table_list("link"), names, refer),
        losses=read_losses(top.table("losses")),
        starter=starter,
        roots=_roots(top.table_list("root"), refer),
        source=_source(top.table("source")),
        connection=top.choice("connection", ("shunt", "separate", "permanent-magnet"), "shunt"),
        winding=top.choice("winding", ("lap", "wave"), ""),
        horsepower=horsepower,
        neglect=frozenset(top.texts("neglect", _NEGLECT)),
        surplus=tuple(refer(item, "surplus") for item in top.texts("surplus")),
        assumptions=top.text("assumptions", ""),
        note=top.text("note", ""),
        label=top.text("label", ""),
        invented=top.flag("invented"),
        name=name,
    )
    for count, most, what in ((len(states), _MOST_STATES, "states"), (len(exercise.answers), _MOST_ANSWERS, "answers"),
                              (len(exercise.links), _MOST_LINKS, "links")):  # fmt: skip
        if count > most:
            raise ExerciseError(f"{count} {what}; at most {most} are accepted")
    check_sense(exercise)
    return exercise


def _roots(tables: list[FileTable], refer: Any) -> tuple[RootRule, ...]:
    rules = []
    for table in tables:
        rules.append(
            RootRule(refer(table.text("of"), f"{table.where} of"), table.choice("take", ("smaller", "larger")))
        )
        table.finish(("of", "take"))
    return tuple(rules)
