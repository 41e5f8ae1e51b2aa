"""Letters as HTML that prints well: a page of A4 for each student, no script, nothing loaded from elsewhere.

A letter with very long names goes on to a second page: nothing of it is ever left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from bot.chat.port import Attachment
from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.effect.text import NAMED, bounds, effect_line
from bot.evidence.shared.figures import IntervalEstimate
from bot.evidence.shared.phrases import about, title_of
from bot.evidence.student.letter import Letter, LetterTopic
from bot.words import Words

MOST_TOPICS, OF_THREE = 7, 4
"""Topics listed under one of two headings, and of three, so that the page stays one; the rest are counted."""

MOST_SCORES = 3
"""Quizzes listed, the latest; the earlier ones are counted."""

_STYLE = """
@page { size: A4; margin: 14mm 20mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.3 "DejaVu Sans", "Noto Sans", Arial, sans-serif; color: #000; margin: 0 auto; max-width: 170mm; }
section.letter { break-after: page; padding: 8mm 0; }
section.letter:last-of-type { break-after: auto; }
@media print { section.letter { padding: 0; } }
h1 { font-size: 17pt; margin: 0 0 1mm; }
h2 { font-size: 11.5pt; margin: 3.5mm 0 1mm; border-bottom: 0.3mm solid #595959; break-after: avoid; }
h1, p, td { overflow-wrap: anywhere; }
tr, p, div.lines { break-inside: avoid; }
p { margin: 0 0 1.2mm; }
.from { color: #595959; margin-bottom: 4mm; }
table { border-collapse: collapse; width: 100%; }
td { padding: 0.4mm 0; vertical-align: middle; }
td.figure { width: 52mm; text-align: right; white-space: nowrap; }
td.bar { width: 46mm; padding-left: 4mm; }
.small { font-size: 9pt; }
.lines { border-bottom: 0.2mm solid #595959; height: 7.5mm; }
"""


def letter_html(letter: Letter, words: Words) -> Attachment:
    """Return one student's letter."""
    name = words.text(
        "letter.file", slug=letter.school_class.slug, name=_file_name(letter.name), ending="html"
    )
    return Attachment(name, "text/html", letters_page((letter,), words).encode(), _title(letter, words))


def letters_html(letters: Sequence[Letter], words: Words) -> Attachment:
    """Return the letters of several students as one document, a page each.

    Raises
    ------
    ValueError
        When there is no letter.
    """
    if not letters:
        raise ValueError("There is no student to write a letter for.")
    name = words.text("letter.file_all", slug=letters[0].school_class.slug, ending="html")
    title = title_of(letters[0].school_class)
    return Attachment(name, "text/html", letters_page(letters, words).encode(), title)


def letters_page(letters: Sequence[Letter], words: Words) -> str:
    """Return the HTML text of some letters."""
    title = _title(letters[0], words) if len(letters) == 1 else title_of(letters[0].school_class)
    body = "\n".join(_letter(letter, words) for letter in letters)
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(words.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _title(letter: Letter, words: Words) -> str:
    return words.text("letter.title", name=letter.name, class_title=title_of(letter.school_class))


def _file_name(name: str) -> str:
    """Return a name that every file system takes, without losing other scripts."""
    return re.sub(r"[^\w-]+", "-", name).strip("-")[:40] or "student"


def _letter(letter: Letter, words: Words) -> str:
    class_title = title_of(letter.school_class)
    most = OF_THREE if letter.between else MOST_TOPICS
    origin = words.text("letter.from", teacher=letter.school_class.teacher, class_title=class_title)
    parts = [
        f"<h1>{escape(_title(letter, words))}</h1>",
        f'<p class="from">{escape(origin.strip(" ·"))} · {escape(words.long_day(letter.day))}</p>',
        _paragraph(words.text("letter.lead", class_title=class_title, name=letter.name)),
        _heading("letter.done", words),
        *(_paragraph(line) for line in done_lines(letter, words)),
        *_effect(letter, words),
        _heading("letter.solid", words),
        _topics(letter.solid, "letter.solid.none", most, words),
    ]
    if letter.between:
        parts += [_heading("letter.between", words), _topics(letter.between, "letter.work.none", most, words)]
    parts += [_heading("letter.work", words), _topics(letter.needs_work, "letter.work.none", most, words)]
    if letter.unknown:
        parts.append(_paragraph(unknown_line(letter, words), "small"))
    parts += [
        _heading("letter.read", words),
        _paragraph(words.text("letter.read.text", name=letter.name), "small"),
        _heading("letter.notes", words),
        '<div class="lines"></div>' * 3,
    ]
    return '<section class="letter">\n' + "\n".join(parts) + "\n</section>"


def _effect(letter: Letter, words: Words) -> list[str]:
    """Write what is known with the reviews and without, with a pair of bars; nothing before the first lesson."""
    line = effect_line(letter.effect, words, NAMED, letter.name)
    if line is None or letter.effect is None:
        return []
    if letter.effect.too_early:
        return [_paragraph(line.plain)]
    rows = "\n".join(_effect_row(letter.effect, key, words) for key in ("known", "without"))
    return [_paragraph(line.plain), f'<table class="small">\n{rows}\n</table>']


def _effect_row(effect: ReviewEffect, key: str, words: Words) -> str:
    share = effect.known if key == "known" else effect.without
    figure = f"{effect.counted(share)[0]} ({bounds(effect, share)})"
    return (
        f"<tr><td>{escape(words.text(f'effect.picture.{key}'))}</td>"
        f'<td class="figure">{figure}</td><td class="bar">{_bar(share)}</td></tr>'
    )


def done_lines(letter: Letter, words: Words) -> list[str]:
    """Write what was done: answers, homework, quiz scores."""
    lines = []
    if letter.asked and letter.since:
        since = words.long_day(letter.since)
        numbers = {"answered": letter.answered, "asked": letter.asked, "on_time": letter.on_time}
        lines.append(words.text("letter.done.answered", name=letter.name, since=since, **numbers))
    else:
        lines.append(words.text("letter.done.none", name=letter.name))
    if letter.extra:
        lines.append(words.text("letter.done.extra", n=letter.extra))
    done, reported = letter.homework
    if reported:
        lines.append(words.text("letter.done.homework", done=done, reported=reported))
    earlier = len(letter.scores) - MOST_SCORES
    if earlier > 0:
        lines.append(words.text("letter.done.earlier", n=earlier))
    for day, name, reached, out_of in letter.scores[-MOST_SCORES:]:
        quiz = f"{name}, {words.day(day)}" if name else words.day(day)
        lines.append(
            words.text(
                "letter.done.score",
                quiz=quiz,
                reached=words.figure(number(reached)),
                out_of=words.figure(number(out_of)),
            )
        )
    return lines


def unknown_line(letter: Letter, words: Words) -> str:
    """Write the topics that too little is known about."""
    names = list(letter.unknown[:MOST_TOPICS])
    left = len(letter.unknown) - len(names)
    if left:
        names.append(words.text("letter.more", n=left))
    return words.text("letter.unknown", topics=words.listed(names))


def number(value: float) -> str:
    """Write a score without needless decimals: ``14``, ``13.5``."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _heading(key: str, words: Words) -> str:
    return f"<h2>{escape(words.text(key))}</h2>"


def _paragraph(text: str, style: str = "") -> str:
    return f'<p class="{style}">{escape(text)}</p>' if style else f"<p>{escape(text)}</p>"


def _topics(topics: Sequence[LetterTopic], otherwise: str, most: int, words: Words) -> str:
    if not topics:
        return _paragraph(words.text(otherwise))
    rows = "\n".join(
        f"<tr><td>{escape(row.name)}</td>"
        f'<td class="figure">{escape(about(words, row.now))}</td><td class="bar">{_bar(row.now)}</td></tr>'
        for row in topics[:most]
    )
    left = len(topics) - most
    more = _paragraph(words.text("letter.more", n=left), "small") if left > 0 else ""
    return f"<table>\n{rows}\n</table>{more}"


def _bar(estimate: IntervalEstimate) -> str:
    """Draw an estimate as an inline picture: printers leave out coloured backgrounds, but not this."""
    low, high, middle = (round(2 + 156 * value, 1) for value in (estimate.low, estimate.high, estimate.mean))
    return (
        '<svg width="160" height="12" viewBox="0 0 160 12" aria-hidden="true">'
        '<line x1="2" y1="6" x2="158" y2="6" stroke="#D9D9D9" stroke-width="1"/>'
        '<line x1="80" y1="1" x2="80" y2="11" stroke="#000" stroke-width="1" stroke-dasharray="2 2"/>'
        f'<line x1="{low}" y1="6" x2="{high}" y2="6" stroke="#0072B2" stroke-width="3"/>'
        f'<rect x="{middle - 3.5}" y="2.5" width="7" height="7" fill="#0072B2"/></svg>'
    )
