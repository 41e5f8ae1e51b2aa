"""Questions whose values are drawn anew for every student and time. Pure: no database, no chat.

``check(template)`` tries 200 draws and reports problems as values; ``draw(template, seed)`` draws; ``render(template,
draw)`` gives the question as it is asked; ``error_in(asked, given, verdict)`` tells which typical error was made.
"""

from bot.grading.drawn.checking import Checked, check
from bot.grading.drawn.drawing import Draw, draw
from bot.grading.drawn.errors import BadDraw, Problem, Refused, Undefined
from bot.grading.drawn.feedback import error_in
from bot.grading.drawn.figures import Language
from bot.grading.drawn.rendering import Asked, WrongAnswer, render
from bot.grading.drawn.template import Template, Wrong

__all__ = [
    "Asked", "BadDraw", "Checked", "Draw", "Language", "Problem", "Refused", "Template", "Undefined", "Wrong",
    "WrongAnswer", "check", "draw", "error_in", "render",
]  # fmt: skip
