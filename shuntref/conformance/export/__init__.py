"""Verified source to start from: the derived equations of every function of the suite, written in other languages."""
