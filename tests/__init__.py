"""The tests, a package so that they may share tiny_program."""
