"""Bytes of any table file to one sheet of typed cells, in a limited child process."""
