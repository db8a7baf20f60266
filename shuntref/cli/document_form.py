"""The option ``--format`` of the commands that write a document."""

from __future__ import annotations

import click

__all__ = ["document_form"]

document_form = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "markdown", "latex"]),
    default="text",
    show_default=True,
    help="How to print it. The LaTeX goes into the body of any document.",
)
