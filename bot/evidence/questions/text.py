"""The verdicts on questions as text: what is found, why, and what to do."""

from __future__ import annotations

from bot.chat.formulas import shown
from bot.evidence.questions.findings import QuestionFinding
from bot.evidence.questions.numbers import ENOUGH_FOR_FACILITY, QuestionStat, QuestionTable
from bot.evidence.shared.figures import IntervalEstimate
from bot.evidence.shared.phrases import about, percent, stacked, title_of
from bot.words import Words
from bot.words.rich import Rich

LISTED = 5
PROMPT_LENGTH = 90


def questions_text(table: QuestionTable, words: Words) -> Rich:
    """Write how many questions need a look, and the most pressing of them."""
    title = words.say("questions.title", title=title_of(table.school_class))
    in_use = [row for row in table.questions if not row.retired]
    if not in_use:
        return stacked(title, words.say("questions.none"))
    look = table.to_look_at
    few = sum(not row.known for row in in_use)
    fine = len(in_use) - len(look) - few
    lines: list[Rich | None] = [
        title,
        words.say("questions.summary", n=len(in_use), look=len(look), fine=fine, few=few),
    ]
    lines += [_line(row, words) for row in look[:LISTED]]
    if len(look) > LISTED:
        lines.append(words.say("questions.more", n=len(look) - LISTED))
    lines.append(words.say("questions.note"))
    return stacked(*lines)


def _line(row: QuestionStat, words: Words) -> Rich:
    prompt = shown(row.prompt).text
    if len(prompt) > PROMPT_LENGTH:
        prompt = prompt[: PROMPT_LENGTH - 1].rstrip() + "…"
    return words.say("questions.line", topic=row.topic, prompt=prompt, finding=verdict(row, words))


def verdict(row: QuestionStat, words: Words) -> str:
    """Write what the answers say of a question, why, and what to do."""
    if not row.known:
        return words.text("questions.few", students=row.students, needed=ENOUGH_FOR_FACILITY)
    if not row.findings:
        return words.text("questions.fine")
    return _finding(row.findings[0], row, words)


def _finding(finding: QuestionFinding, row: QuestionStat, words: Words) -> str:
    named = row.misleading if finding is QuestionFinding.CHECK_KEY else row.idle
    return words.text(
        f"questions.{finding.name.lower()}",
        facility=about(words, row.facility.estimate),
        expected=percent(row.expected or 0.0),
        unsure=about(words, row.unsure.estimate),
        discrimination=correlation(row.discrimination, words),
        options=words.listed(list(named)),
    )


def correlation(estimate: IntervalEstimate | None, words: Words) -> str:
    """Write a correlation as is usual: ``.12 (−.10 to .33)``, in German ``0,12 (−0,10 bis 0,33)``."""
    if estimate is None:
        return "–"
    mean, low, high = (_short(value, words) for value in (estimate.mean, estimate.low, estimate.high))
    return words.text("questions.correlation", mean=mean, low=low, high=high)


def _short(value: float, words: Words) -> str:
    """Write a correlation with two decimals; only English leaves out the nought before the point."""
    text = words.figure(f"{abs(value):.2f}")
    return ("−" if round(value, 2) < 0 else "") + (text[1:] if text.startswith("0.") else text)
