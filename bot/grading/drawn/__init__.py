"""Questions whose values are drawn anew for every student and time. Pure: no database, no chat.

``check(template)`` tries 200 draws and reports problems as values; ``draw(template, seed)`` draws; ``render(template,
draw)`` gives the question as it is asked; ``error_in(asked, given, verdict)`` tells which typical error was made.
"""

from bot.grading.drawn.checking import Checked, check
from bot.grading.drawn.drawing import Draw, draw
from bot.grading.drawn.errors import BadDraw, BadTemplate, TemplateProblem, TemplateRefused, Undefined
from bot.grading.drawn.feedback import Feedback, error_in, feedback_from_dict, feedback_to_dict
from bot.grading.drawn.figures import Language
from bot.grading.drawn.rendering import RenderedQuestion, WrongAnswer, render
from bot.grading.drawn.storing import (
    ask,
    key_to_show,
    template_from_dict,
    template_to_dict,
)
from bot.grading.drawn.template import Template, Wrong, kind_of

__all__ = [
    "BadDraw",
    "BadTemplate",
    "Checked",
    "Draw",
    "Feedback",
    "Language",
    "RenderedQuestion",
    "Template",
    "TemplateProblem",
    "TemplateRefused",
    "Undefined",
    "Wrong",
    "WrongAnswer",
    "ask",
    "check",
    "draw",
    "error_in",
    "feedback_from_dict",
    "feedback_to_dict",
    "key_to_show",
    "kind_of",
    "render",
    "template_from_dict",
    "template_to_dict",
]  # fmt: skip
