"""A term of an invented school, played by the real program on a clock that is moved by hand."""
