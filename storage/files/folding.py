"""When two names or topics are the same, however they are typed. Apart from the readers, which import much more."""

from __future__ import annotations

import re
import unicodedata


def fold(text: str) -> str:
    """Reduce a name or topic to what makes it the same: no case, no kinds of quotes and dashes, single blanks.

    Examples
    --------
    >>> fold("  Hooke’s  LAW ") == fold("Hooke's law")
    True
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    plain = re.sub("[\u2018\u2019\u00b4`]", "'", re.sub("[\u2010-\u2015\u2212]", "-", plain))
    return " ".join(plain.split())
