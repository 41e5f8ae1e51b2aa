"""Questions as teachers type them: ``question / answer / wrong option / …``, with more lines if wanted.

Several such lines in one message are several questions.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from bot.grading.kinds import KINDS
from bot.grading.upload import infer_kind
from bot.talk.teacher.posts import is_question, parts_of

LONGEST_PROMPT = 1000

_FIELDS = {
    "answer": "answer",
    "wrong": "wrong",
    "wrong options": "wrong",
    "also": "also",
    "also right": "also",
    "unit": "unit",
    "tolerance": "tolerance",
    "explanation": "explanation",
    "because": "explanation",
    "kind": "kind",
    "values": "values",
    "where": "where",
    "rounding": "rounding",
    "typical errors": "errors",
    "why wrong": "why",
    "steps": "steps",
    # German
    "antwort": "answer",
    "falsch": "wrong",
    "auch": "also",
    "auch richtig": "also",
    "einheit": "unit",
    "toleranz": "tolerance",
    "erklärung": "explanation",
    "weil": "explanation",
    "denn": "explanation",
    "werte": "values",
    "wobei": "where",
    "runden": "rounding",
    "typische fehler": "errors",
    "warum falsch": "why",
    "schritte": "steps",
}
_LINE = re.compile(rf"^\s*({'|'.join(sorted(_FIELDS, key=len, reverse=True))})\s*[:=]\s*(.+)$", re.IGNORECASE)
_LISTS = ("wrong", "also", "errors")
_SAYINGS = ("why", "steps")
"""Sentences with bars between them: a semicolon may stand in one."""


def read_drafts(text: str) -> list[dict[str, Any]]:
    r"""Read a message as one question or several; empty when it has not that form.

    A question begins with its own ``question / answer``, or with the lines above its ``answer: …``; the lines with
    more about a question follow it.

    Examples
    --------
    >>> [one["prompt"] for one in read_drafts("Unit of force? / newton\nbecause: N\nOf energy? / joule")]
    ['Unit of force?', 'Of energy?']
    """
    drafts = [read_draft("\n".join(block)) for block in _blocks(text.strip().splitlines())]
    found = [draft for draft in drafts if draft is not None]
    return found if len(found) == len(drafts) else []


def _blocks(lines: list[str]) -> list[list[str]]:
    """Cut the lines of a message where the next question begins."""
    blocks: list[list[str]] = [[]]
    answered = False
    for place, line in enumerate(lines):
        given = _LINE.match(line)
        if given is None and line.strip() and answered and any(_answers(one) for one in lines[place:]):
            blocks.append([])
            answered = False
        blocks[-1].append(line)
        answered = answered or _answers(line)
    return blocks


def _answers(line: str) -> bool:
    """Whether a line brings the answer of a question."""
    given = _LINE.match(line)
    return is_question(line) if given is None else _FIELDS[given[1].casefold()] == "answer"


def read_draft(text: str) -> dict[str, Any] | None:
    r"""Read a message as a question with its answer; None when it has not that form.

    Parameters
    ----------
    text : str
        ``question / answer``, wrong options after further slashes; or the question on its own lines with
        lines ``answer: …``, ``wrong: …; …``, ``also: …``, ``unit: …``, ``tolerance: …``, ``because: …``; with
        ``values: s = 20..120 step 10`` every student gets numbers of their own.

    Returns
    -------
    dict or None
        ``prompt``, ``answer``, and where given ``wrong``, ``also``, ``errors``, ``why``, ``steps`` (lists), ``unit``,
        ``tolerance``, ``explanation``, ``kind``, and of what is drawn ``values``, ``where``, ``rounding``.

    Examples
    --------
    >>> read_draft("Unit of force? / newton / joule / watt")
    {'prompt': 'Unit of force?', 'answer': 'newton', 'wrong': ['joule', 'watt']}
    >>> read_draft("Density of 270 g in 100 cm^3?\nanswer: 2.7\nunit: g/cm^3\nbecause: mass by volume")["unit"]
    'g/cm^3'
    >>> read_draft("Good morning") is None
    True
    """
    draft: dict[str, Any] = {}
    prompt: list[str] = []
    for line in text.strip().splitlines():
        given = _LINE.match(line)
        if given is not None:
            _take(draft, _FIELDS[given[1].casefold()], given[2].strip())
        elif is_question(line) and "answer" not in draft:
            first, answer, *wrong = _whole_formula(parts_of(line))
            prompt.append(first)
            draft["answer"] = answer
            if any(wrong):
                draft["wrong"] = [option for option in wrong if option]
        elif line.strip():
            prompt.append(line.strip())
    asked = "\n".join(part for part in prompt if part)[:LONGEST_PROMPT]
    return {"prompt": asked, **draft} if asked and draft.get("answer") else None


def _whole_formula(parts: list[str]) -> list[str]:
    """Put a formula together again that has a slash with blanks in it: no wrong option stands without a sign.

    ``v = s / t`` is one answer; of ``v = s t / v = t s^2`` the second is another.
    """
    first, answer, *rest = parts
    if not rest or "=" not in answer or any("=" in one or not one for one in rest):
        return parts
    whole = " / ".join([answer, *rest])
    return [first, whole] if KINDS[infer_kind(whole)].has_slashes else parts


def as_line(prompt: str, answer: str, wrong: list[str]) -> str:
    """Write a question as the line that `read_draft` would read it from."""
    return " / ".join([" ".join(prompt.split()), answer, *wrong])


def _listed(value: str) -> list[str]:
    """Split a list at its semicolons, but not at one between brackets: ``round(n; 2)`` is one formula."""
    if value.count("(") != value.count(")"):
        return value.split(";")
    parts = [""]
    for sign in value:
        if sign == ";" and parts[-1].count("(") <= parts[-1].count(")"):
            parts.append("")
        else:
            parts[-1] += sign
    return parts


def _take(draft: dict[str, Any], field: str, value: str) -> None:
    if field in _LISTS:
        draft.setdefault(field, []).extend(part.strip() for part in _listed(value) if part.strip())
    elif field in _SAYINGS:
        draft[field] = [part.strip() for part in value.split("|")]
    else:
        draft[field] = value


Draft = Mapping[str, Any]
