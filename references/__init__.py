"""Data files of shuntref: read them with ``importlib.resources.files("shuntref.references")``."""
