"""The certified cases by group: which equations each function stands for, its mistakes, and the rows of inputs."""
