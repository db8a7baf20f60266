"""A reference model of the d.c. shunt motor."""
