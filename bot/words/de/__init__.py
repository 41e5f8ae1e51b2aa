"""German. Students are addressed as „du“, teachers as „Sie“; what both hear avoids either."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de import account, channel, common, drawn, evidence, files, joining, refusals, student, teacher

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **common.TEXTS,
    **account.TEXTS,
    **joining.TEXTS,
    **student.TEXTS,
    **teacher.TEXTS,
    **channel.TEXTS,
    **refusals.TEXTS,
    **files.TEXTS,
    **evidence.TEXTS,
    **drawn.TEXTS,
}
