"""The optional parts of the installation, and what to do where one is missing.

The names are those of ``[project.optional-dependencies]`` in pyproject.toml. Nothing is imported to find out.
"""

from __future__ import annotations

from importlib.util import find_spec

MODULES = {"matrix": ("nio", "vodozemac", "cryptography")}
"""What each extra brings that the program imports itself. PostgreSQL's is seen to in ``storage.base.database``."""


def lacking(extra: str, wanted_by: str) -> str | None:
    """Say that an extra is not installed and how to install it.

    Parameters
    ----------
    extra : str
        A key of `MODULES`.
    wanted_by : str
        What asks for it, as the first words of the sentence.

    Returns
    -------
    str or None
        A sentence, or None if all of it is there.
    """
    absent = [name for name in MODULES[extra] if find_spec(name) is None]
    if not absent:
        return None
    return (
        f'{wanted_by} needs the extra "{extra}", which is not installed ({", ".join(absent)} not found). In the '
        f"project's folder: pip install '.[{extra}]' (pinned: pip install --require-hashes -r "
        f"deploy/requirements-{extra}.txt)"
    )
