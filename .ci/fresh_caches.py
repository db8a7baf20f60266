"""Plugin of the traced run: what the exercises keep is thrown away between tests, so that the trace names every test of a line.

Not in the tests that put thousands of answers to one kept key: they would take hours.
"""

from __future__ import annotations

import sys

import pytest

_ROOM = "shuntref.exercises"
_LONG = ("tests/test_slips.py", "tests/test_marking.py", "tests/test_selfcheck.py")


@pytest.fixture(autouse=True)
def _nothing_kept(request: pytest.FixtureRequest) -> None:
    if not request.node.nodeid.startswith(_LONG):
        for name, module in list(sys.modules.items()):
            if name.startswith(_ROOM):
                for value in list(vars(module).values()):
                    if hasattr(value, "cache_clear"):
                        value.cache_clear()
