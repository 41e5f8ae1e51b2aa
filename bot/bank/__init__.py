"""Our own bank of questions, with drawn values and fixed ones, for lower-secondary physics and mathematics.

The questions stand in readable files (TOML) beside this module: what is drawn, the answer, unit, tolerance and
typical errors once; the sentences in English and in German. ``topics_for("Ohm's law")`` finds a timetable's topic,
``catalogue()`` holds everything.
"""

from bot.bank.reading import BadBank, BankQuestion, BankTopic, Catalogue, FixedQuestion, catalogue
from bot.bank.topics import topics_for

__all__ = ["BadBank", "BankQuestion", "BankTopic", "Catalogue", "FixedQuestion", "catalogue", "topics_for"]
