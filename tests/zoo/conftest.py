"""The files of the zoo are run by the conformance runner, each in a process of its own; they hold no tests."""

collect_ignore_glob = ["*.py"]
