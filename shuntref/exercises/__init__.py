"""Exercises stated once: solved with steps, answers judged, slips named.

The format is described in ``references/README.md``.
"""
