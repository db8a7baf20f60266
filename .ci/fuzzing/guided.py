"""A target under a fuzzer that watches which branches an input reaches, and keeps those that reach new ones (atheris)."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from pathlib import Path

from fuzzing.watch import Target

__all__ = ["run_guided"]

_SEEDS, _LONGEST = 300, 20_000


def run_guided(load: Callable[[], list[Target]], inputs: int, keep: Path) -> None:
    """Put ``inputs`` to the first target that ``load`` gives; the process ends here, with status 0 if all is in order.

    ``load`` must be what first imports shuntref, for it is then that its branches are marked. What is found is written
    into ``keep``, beside the inputs that reached something new, with which the next run begins.
    """
    atheris = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["shuntref"]):
        (target, *_) = load()
    corpus = keep / f"corpus-{target.name.replace(' ', '-')}"
    corpus.mkdir(parents=True, exist_ok=True)
    for number in range(_SEEDS):
        (corpus / str(number)).write_bytes(target.make(number)[:_LONGEST])

    def one(data: bytes) -> None:
        try:
            target.run(data)
        except target.documented:
            return

    limits = [f"-runs={inputs}", f"-max_len={_LONGEST}", f"-timeout={int(target.seconds)}", "-rss_limit_mb=1200"]
    atheris.Setup([sys.argv[0], *limits, f"-artifact_prefix={keep}/", str(corpus)], one)
    atheris.Fuzz()
