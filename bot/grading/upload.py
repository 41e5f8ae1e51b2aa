"""From what a teacher wrote to an answer key, or every problem of it in a sentence.

The reader of the sheet has already found the columns; here the contents are tried the way they will be used: a
number must be a number, its unit known, a formula must have a value, options must differ.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from bot.grading import equality, formulas, formulatokens, numbers, texts, units
from bot.grading.choices import MAX_OPTIONS
from bot.grading.formulas import Custom, FormulaError
from bot.grading.keys import Amount, AnswerKey, ChoiceKey, FormulaKey, NumberKey, TextKey
from bot.grading.latex import inside_dollars, plain_formula
from bot.grading.signs import MAX_CHARS, plain
from storage.files.values import QuestionKind, QuestionRow, Tolerance

Column = Literal["answer", "alternatives", "wrong options", "typical errors", "tolerance", "unit"]

MAX_OPTION_CHARS = 100


@dataclass(frozen=True, slots=True)
class KeyProblem:
    """What is wrong with a key: the column, the value found, and why: the text is ``key.CODE`` with these values."""

    column: Column
    found: str
    code: str
    values: Mapping[str, Any] = field(default_factory=dict)


class KeyRefused(ValueError):
    """A key cannot be made; `problems` holds every reason."""

    def __init__(self, problems: Sequence[KeyProblem]) -> None:
        super().__init__(", ".join(f"{problem.column}: {problem.code}" for problem in problems))
        self.problems = tuple(problems)


def key_from_row(row: QuestionRow) -> AnswerKey:
    """Make the key of a row of a question sheet; see :func:`key_from`."""
    # A typical error of a text is never a slip of the right word.
    errors = row.typical_errors if row.kind == "text" else ()
    return key_from(
        row.kind,
        row.answer,
        alternatives=row.alternatives,
        wrong_options=row.wrong_options or errors,
        tolerance=row.tolerance,
        unit=row.unit,
    )


def key_from(
    kind: QuestionKind,
    answer: str,
    *,
    alternatives: Sequence[str] = (),
    wrong_options: Sequence[str] = (),
    tolerance: Tolerance | None = None,
    unit: str | None = None,
) -> AnswerKey:
    """Make and check the key of a question.

    Parameters
    ----------
    kind : {"choice", "number", "text", "formula"}
    answer : str
        The right answer; for a number it may carry its unit.
    alternatives : sequence of str
        Further right answers.
    wrong_options : sequence of str
        The other options of a choice; for a text, answers that are never taken for a typo.
    tolerance : Tolerance or None
        For a number.
    unit : str or None
        For a number whose answer is written without one.

    Returns
    -------
    AnswerKey

    Raises
    ------
    KeyRefused
        With every problem found.

    Examples
    --------
    >>> key_from("number", "2,7", unit="g/cm3")
    NumberKey(accepted=(Amount(value=2.7, unit='g/cm³', figures=2, place=-1, written=''),), tolerance=None)
    >>> try:
    ...     key_from("number", "two")
    ... except KeyRefused as refused:
    ...     print(refused)
    answer: number
    """
    problems: list[KeyProblem] = []
    if not plain(answer):
        problems.append(KeyProblem("answer", "", "empty"))
        raise KeyRefused(problems)
    own, more = _clean(answer), [_clean(text) for text in alternatives if plain(text)]
    wrong = [_clean(text) for text in wrong_options if plain(text)]
    key: AnswerKey | None
    if kind == "choice":
        key = _choice(own, more, wrong, problems)
    elif kind == "number":
        key = _number(own, more, tolerance, unit, problems)
    elif kind == "text":
        key = _text(own, more, wrong, problems)
    else:
        key = _formula(own, more, problems)
    if kind != "number" and tolerance is not None:
        problems.append(KeyProblem("tolerance", str(tolerance.amount), "tolerance_idle"))
    if problems or key is None:
        raise KeyRefused(problems)
    return key


def _clean(text: str) -> str:
    return " ".join(text.split())


def _quoted(text: str) -> str:
    return f'"{text[:40]}{"…" if len(text) > 40 else ""}"'


def _choice(
    right: str, more: Sequence[str], wrong: Sequence[str], problems: list[KeyProblem]
) -> ChoiceKey | None:
    options = [right, *wrong]
    if more:
        problems.append(KeyProblem("alternatives", more[0], "alternatives_idle"))
    if not 2 <= len(options) <= MAX_OPTIONS:
        problems.append(
            KeyProblem(
                "wrong options",
                str(len(wrong)),
                "options",
                {"most": MAX_OPTIONS - 1, "n": len(wrong)},
            )
        )
    seen: dict[str, str] = {}
    for option in options:
        folded = plain(option).casefold().replace(" ", "")
        if folded in seen:
            both = {"first": _quoted(seen[folded]), "second": _quoted(option)}
            problems.append(KeyProblem("wrong options", option, "options_same", both))
        seen.setdefault(folded, option)
        if len(option) > MAX_OPTION_CHARS:
            column: Column = "wrong options" if option != right else "answer"
            values = {"option": _quoted(option), "most": MAX_OPTION_CHARS}
            problems.append(KeyProblem(column, option[:40], "option_long", values))
    return ChoiceKey(right, tuple(wrong))


def _number(
    own: str, more: Sequence[str], tolerance: Tolerance | None, unit: str | None, problems: list[KeyProblem]
) -> NumberKey | None:
    default = _known_unit(_clean(unit or ""), "unit", problems)
    found = [_amount(own, "answer", default, problems)]
    found += [_amount(text, "alternatives", default, problems) for text in more]
    _check_tolerance(tolerance, problems)
    accepted = tuple(amount for amount in found if amount is not None)
    return NumberKey(accepted, tolerance) if accepted else None


def _known_unit(text: str, column: Column, problems: list[KeyProblem]) -> str:
    if not text:
        return ""
    meant = units.read(units.spaced(text))
    if len(meant) == 1:
        return meant[0].shown
    code = "unit_two_ways" if meant else "unit_unknown"
    problems.append(KeyProblem(column, text, code, {"unit": _quoted(text)}))
    return ""


def _amount(text: str, column: Column, default: str, problems: list[KeyProblem]) -> Amount | None:
    text = plain_formula(text) if inside_dollars(text) else text
    written = numbers.read(text)
    if written is None:
        problems.append(KeyProblem(column, text, "number", {"found": _quoted(text)}))
        return None
    if len(written.readings) > 1 and "," in text:
        first, second = (f"{numeral.value:.12g}" for numeral in written.readings[:2])
        values = {"found": _quoted(text), "first": first, "second": second}
        problems.append(KeyProblem(column, text, "number_two_ways", values))
        return None
    own = _known_unit(written.rest, column, problems)
    if own and default and not units.same_dimension(units.read(own)[0], units.read(default)[0]):
        problems.append(KeyProblem("unit", default, "units_differ", {"own": own, "unit": default}))
    numeral = written.readings[0]
    exact = _exact(text, written.rest) if numeral.place is None else ""
    return Amount(numeral.value, own or default, numeral.figures, numeral.place, exact)


def _exact(text: str, rest: str) -> str:
    """Return a fraction or a ratio as it is shown again: ``2:1``, ``1 3/4``."""
    found = re.search(
        r"[+-]?(?:\d+ )?\d[\d.,]*(?: ?[:/] ?| to | zu )\d[\d.,]*", plain(text).removesuffix(rest)
    )
    return re.sub(r" ?[:/] ?| to | zu ", lambda m: "/" if "/" in m[0] else ":", found[0]) if found else ""


def _check_tolerance(tolerance: Tolerance | None, problems: list[KeyProblem]) -> None:
    if tolerance is None:
        return
    amount = tolerance.amount
    if not 0 <= amount < float("inf") or (tolerance.relative and amount >= 1):
        shown = f"{amount:.0%}" if tolerance.relative else f"{amount:g}"
        problems.append(KeyProblem("tolerance", shown, "tolerance", {"found": shown}))


def _text(own: str, more: Sequence[str], wrong: Sequence[str], problems: list[KeyProblem]) -> TextKey:
    answers = (own, *more)
    for answer in answers:
        if len(answer) > MAX_CHARS // 2 or len(texts.words(answer)) > texts.MAX_WORDS:
            problems.append(KeyProblem("answer", answer[:40], "text_long", {"found": _quoted(answer)}))
    for text in wrong:
        if any(texts.words(text) == texts.words(answer) for answer in answers):
            problems.append(KeyProblem("wrong options", text, "text_both", {"found": _quoted(text)}))
    return TextKey(answers, tuple(wrong))


def _formula(own: str, more: Sequence[str], problems: list[KeyProblem]) -> FormulaKey:
    # Kept as people read it: a student who is wrong is shown the answer.
    own, *more = [_clean(plain_formula(text)) for text in (own, *more)]
    for column, text in (("answer", own), *(("alternatives", text) for text in more)):
        try:
            _check_formula(text)
        except FormulaError as error:
            place: Column = "answer" if column == "answer" else "alternatives"
            problems.append(KeyProblem(place, text, "formula", {"found": _quoted(text), "why": error.reason}))
    return FormulaKey((own, *more))


def _check_formula(text: str) -> None:
    formula = formulas.read(text)
    if not equality.has_value(formula):
        raise FormulaError("it has no value, as in a division by zero")
    if not equality.same_value(formula, formulas.read(text, custom=Custom("left"))):
        raise FormulaError("what stands under the slash is not clear; use brackets, as in a/(2b) or (a/2)b")


def infer_kind(
    answer: str, *, wrong_options: Sequence[str] = (), unit: str | None = None, question: str = ""
) -> QuestionKind:
    """Say which kind a question is by what its answer looks like; shown to the teacher, who can change it.

    Examples
    --------
    >>> infer_kind("10 cm", wrong_options=["8 cm"]), infer_kind("2.7 g/cm³"), infer_kind("F = m a")
    ('choice', 'number', 'formula')
    >>> infer_kind("photosynthesis"), infer_kind("2 H2O"), infer_kind("E = 1/2*m*v^2")
    ('text', 'text', 'formula')
    """
    if any(plain(text) for text in wrong_options):
        return "choice"
    inner = inside_dollars(answer)
    if inner is not None:
        return "number" if _looks_like_number(plain_formula(inner), question) else "formula"
    if _looks_like_number(answer, question):
        return "number"
    if unit and plain(unit):
        return "number"
    return "formula" if _looks_like_formula(answer) else "text"


def _looks_like_number(answer: str, question: str) -> bool:
    written = None if _is_clock(answer, question) else numbers.read(answer)
    if written is None or (written.rest and not units.read(written.rest)):
        return False
    return not (_multiplies_quantities(answer, written) and _looks_like_formula(answer))


def _multiplies_quantities(answer: str, written: numbers.Written) -> bool:
    """Whether what follows the number is a product of quantities that could be taken for units: ``1/2*m*v^2``."""
    names = re.findall(r"[^\W\d_]+", written.rest)
    if len(names) < 2:
        return False
    if re.search(r"\d ?[*·⋅×] ?[^\W\d]", answer) and plain(written.rest)[:1] == "·":
        return "*" in answer or "=" in answer
    # No unit is written with a small v: a single letter that is a unit only with another capital is a quantity.
    strange = [name for name in names if len(name) == 1 and not units.is_spelled_well(name)]
    return bool(strange) and ("=" in answer or written.readings[0].place is None)


_CLOCK = re.compile(r"(?:[01]?\d|2[0-4]):[0-5]\d(?!\d)")
_ASKS_RATIO = re.compile(
    r"\b(?:ratios?|scale|proportions?|odds|aspect|gear\w*|verhältnis\w*|maßstab\w*|übersetzung\w*)\b",
    re.IGNORECASE,
)


def _is_clock(answer: str, question: str) -> bool:
    """Whether ``10:15`` is meant: a time of day is a text, unless the question asks for a ratio."""
    return _CLOCK.match(plain(answer)) is not None and _ASKS_RATIO.search(question) is None


def _looks_like_formula(answer: str) -> bool:
    text = plain(answer)
    if not any(sign in text for sign in "=+·/^√") or not any(sign.isalpha() for sign in text):
        return False
    # "cause/effect" is no quotient: formulas have no long words but the names of functions and Greek letters.
    runs = re.findall(r"(?<![_\w])[^\W\d_]{4,}", text)
    if any(run.casefold() not in formulatokens.LONG_WORDS for run in runs):
        return False
    try:
        return equality.has_value(formulas.read(answer))
    except FormulaError:
        return False
