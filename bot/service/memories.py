"""Retention models of the classes, kept between steps. A cache: everything in it follows from the database."""

from __future__ import annotations


class Memories:
    """The models of the classes by class."""
