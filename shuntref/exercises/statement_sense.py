"""Contradictions inside an exercise that can be told without solving it."""

from __future__ import annotations

from shuntref.exercises.statement import Entry, Exercise, ExerciseError, State

__all__ = ["check_sense"]

#: their sign says which way the energy goes
_SIGNED = ("armature_current", "line_current", "input_power", "armature_input_power", "electromagnetic_power",
           "electromagnetic_torque")  # fmt: skip
_FIELD_CIRCUIT = ("field_resistance", "added_field_resistance", "field_circuit_resistance", "field_voltage",
                  "field_copper_loss", "added_field_loss")  # fmt: skip
_WINDING_TIES = ("poles", "pole_pairs", "conductors", "flux_per_pole")


def check_sense(exercise: Exercise) -> None:
    """Refuse an exercise whose data contradict each other on sight.

    Raises
    ------
    ExerciseError
        Naming the table, the quantity and the contradiction.
    """
    if not exercise.answers:
        raise ExerciseError('there is no answer to find; write for example [answer.speed] with of = "speed"')
    if exercise.invented and exercise.source:
        raise ExerciseError("[source]: an invented exercise has no published source; drop one of the two")
    for state in exercise.states.values():
        _check_state(exercise, state)
    _check_field(exercise)
    _check_flux(exercise)
    _check_losses(exercise)
    for name in ("sections", "studs"):
        if _mentioned(exercise, name):
            raise ExerciseError(f"{name}: write it in the [starter] table")


def _value(entry: Entry) -> float | None:
    return None if entry is None else entry.value


def _mentioned(exercise: Exercise, name: str) -> bool:
    return name in exercise.shared or any(name in state.entries for state in exercise.states.values())


def _given(exercise: Exercise, name: str) -> bool:
    return any(entries.get(name) is not None for entries in
               (exercise.shared, *(state.entries for state in exercise.states.values())))  # fmt: skip


def _check_state(exercise: Exercise, state: State) -> None:
    where = f"[state.{state.name}]"
    for name in _SIGNED:
        value = _value(state.entries.get(name))
        if value is not None and value < 0 and state.action == "motor":
            raise ExerciseError(
                f'{where} {name}: negative, so the machine generates; write action = "generator" as well'
            )
        if value is not None and value > 0 and state.action == "generator":
            raise ExerciseError(
                f"{where} {name}: positive in a state whose action is generator; "
                "what a generator delivers is written negative"
            )
    for name in state.entries:
        both = exercise.shared.get(name)
        own = state.entries[name]
        if both is not None and own is not None and both.value == own.value and both.text == own.text:
            raise ExerciseError(f"{where} {name}: given twice, here and in [shared]; give it once")
    speed = _value(state.entries.get("speed_rpm", state.entries.get("speed")))
    if "speed_rpm" in state.entries and "speed" in state.entries:
        raise ExerciseError(f"{where} speed: given twice")
    if speed == 0 and (_value(state.entries.get("back_emf")) or 0) != 0:
        raise ExerciseError(f"{where} back_emf: cannot differ from 0 V at standstill")
    neglect = state.neglect | exercise.neglect
    if "field-current" in neglect and _value(state.entries.get("field_current")):
        raise ExerciseError(f"{where} field_current: given, though field-current is neglected")
    if "rotational-loss" in neglect and (state.entries.keys() & {"rotational_loss", "loss_torque"}):
        raise ExerciseError(f"{where} rotational_loss: mentioned, though rotational-loss is neglected")


def _check_field(exercise: Exercise) -> None:
    if exercise.connection == "permanent-magnet":
        for name in (*_FIELD_CIRCUIT, "field_current"):
            if _mentioned(exercise, name):
                raise ExerciseError(f"{name}: a permanent-magnet machine has no field circuit")
        if exercise.flux.law in ("proportional", "froehlich", "table", "readings"):
            raise ExerciseError(
                f"[flux] law: {exercise.flux.law!r} needs a field current, which a permanent magnet has not"
            )
    if exercise.connection == "shunt":
        for state in exercise.states.values():
            field, supply = state.entries.get("field_voltage"), state.entries.get("supply_voltage")
            if field is not None and supply is not None and field.value != supply.value:
                raise ExerciseError(
                    f"[state.{state.name}] field_voltage: differs from supply_voltage, which a shunt "
                    'connection does not allow; write connection = "separate"'
                )


def _check_flux(exercise: Exercise) -> None:
    if _mentioned(exercise, "flux_ratio") and exercise.flux.law != "constant":
        raise ExerciseError('flux_ratio: a ratio to which flux? write [flux] law = "constant"')
    froehlich = [name for name in ("froehlich_a", "froehlich_b") if _mentioned(exercise, name)]
    if froehlich and exercise.flux.law != "froehlich":
        raise ExerciseError(f'{froehlich[0]}: belongs to [flux] law = "froehlich"')
    if _mentioned(exercise, "flux_constant") and exercise.flux.law != "proportional":
        raise ExerciseError('flux_constant: belongs to [flux] law = "proportional"')
    taken: dict[str, str] = {}
    for reading in exercise.flux.readings:
        for state in reading.states:
            if state in taken:
                raise ExerciseError(f"[[flux.reading]] states: {state!r} has two readings; one is possible")
            taken[state] = state
    if exercise.winding and not any(_mentioned(exercise, name) for name in _WINDING_TIES):
        raise ExerciseError("winding: lap or wave is said, but neither poles nor conductors")
    if exercise.winding and _given(exercise, "parallel_paths"):
        raise ExerciseError("winding: parallel_paths are given already; give one of the two")


def _check_losses(exercise: Exercise) -> None:
    losses = exercise.losses
    needs = _mentioned(exercise, "constant_loss") or any(state.condition for state in exercise.states.values())
    needs = needs or any(answer.of.quantity == "constant_loss" for answer in exercise.answers.values())
    if needs and not losses.constant_loss_is:
        raise ExerciseError(
            "constant_loss: which losses does it hold? write [losses] constant_loss_is = [...], "
            'for example ["rotational_loss", "field_copper_loss"]'
        )
    if losses.rotational == "none" and (_mentioned(exercise, "rotational_loss") or _mentioned(exercise, "loss_torque")):
        raise ExerciseError('[losses] rotational: "none", though rotational_loss or loss_torque is mentioned')
    if losses.rotational == "same-watts" and "loss_torque" in exercise.shared:
        raise ExerciseError('[losses] rotational: "same-watts", though a loss_torque is shared by all states')
    if losses.rotational == "same-torque" and "rotational_loss" in exercise.shared:
        raise ExerciseError('[losses] rotational: "same-torque", though a rotational_loss is shared by all states')
