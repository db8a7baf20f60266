"""Hostile input for every reader of shuntref: seeds, mutation, watching, and the targets."""
