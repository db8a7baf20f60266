"""``shuntref derive``: a quantity derived from the laws, step by step."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from shuntref.cautions import CAUTIONS, SUGGESTED, cautions_in
from shuntref.cli.document_form import document_form

if TYPE_CHECKING:
    from shuntref.theory.derivation import Derivation

__all__ = ["derive"]


@click.command()
@click.argument("quantity", default="speed")
@document_form
@click.option("--brush-drop", is_flag=True, help="Keep the drop at the brushes instead of neglecting it.")
@click.option(
    "--line-resistance",
    is_flag=True,
    help="Start from the source voltage, ahead of a resistance that feeds both circuits.",
)
@click.option(
    "--flux",
    type=click.Choice(["general", "proportional", "froehlich"]),
    default="general",
    show_default=True,
    help="Leave the flux as it is, or put in how it follows the field current.",
)
@click.option("--separate", is_flag=True, help="Feed the field from a voltage of its own instead of in parallel.")
@click.option("--reaction", is_flag=True, help="Let the armature current weaken the field (needs --flux).")
@click.option(
    "--given",
    type=click.Choice(["torque", "speed", "current"]),
    help="What is known, where there is a choice: say the armature current from the torque, or from the speed.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the steps as one JSON document.")
def derive(
    quantity: str,
    form: str,
    brush_drop: bool,
    line_resistance: bool,
    flux: str,
    separate: bool,
    reaction: bool,
    given: str | None,
    as_json: bool,
) -> None:
    """Derive a QUANTITY of the shunt motor from the laws, one step after another.

    Each step says which law it brings in, what is done with it, and what comes out; sympy carries every step out and puts
    it back to see that nothing is left over. Without a QUANTITY it is the speed.

    Others are: the currents (field_current, armature_current, line_current), the torques (electromagnetic_torque,
    load_torque, loss_torque, stall_torque, peak_torque), k_phi, back_emf, supply_voltage, the resistors for a wanted speed
    (added_field_resistance, added_armature_resistance), starting_resistance, ideal_no_load_speed, peak_speed, peak_k_phi,
    speed_rpm, winding_resistance and winding_temperature.

    \b
    Examples:
      shuntref derive
      shuntref derive speed --brush-drop --line-resistance
      shuntref derive added_field_resistance --flux proportional --format latex
    """
    from shuntref.theory.derivation import derive as derive_quantity
    from shuntref.theory.rendering import render

    wanted: dict[str, Any] = {
        "brush_drop": brush_drop,
        "line_resistance": line_resistance,
        "flux": flux,
        "reaction": reaction,
        "connection": "separate" if separate else "shunt",
    }
    if given is not None:
        wanted["given"] = given
    derivation = derive_quantity(quantity, **wanted)
    failed = [step.number for step, holds in zip(derivation.steps, derivation.check(), strict=True) if not holds]
    if as_json:
        click.echo(json.dumps(_document(derivation, failed), indent=1, ensure_ascii=False))
    else:
        click.echo(render(derivation, form), nl=False)
        if derivation.quantity in SUGGESTED:
            click.echo("\n" + cautions_in(form))
    if failed:
        click.echo(f"shuntref: step {', '.join(map(str, failed))} did not stand up when put back", err=True)
        raise SystemExit(1)


def _document(derivation: Derivation, failed: list[int]) -> dict[str, Any]:
    from shuntref.theory.notation import latex, text
    from shuntref.theory.rendering import heading, legend, step_words

    return {
        "quantity": derivation.quantity,
        "title": heading(derivation),
        "steps": [
            {
                "number": step.number,
                "law": step.law or None,
                "operation": step_words(step),
                "put_in": text(step.applied) if step.applied is not None else None,
                "result": text(step.result),
                "latex": latex(step.result),
                "verified": step.number not in failed,
            }
            for step in derivation.steps
        ],
        "result": text(derivation.result),
        "conditions": list(derivation.conditions),
        "symbols": [dict(zip(("name", "symbol", "unit", "meaning"), row, strict=True)) for row in legend(derivation)],
        "cautions": list(CAUTIONS) if derivation.quantity in SUGGESTED else [],
    }
