"""Problems of a template in words for the teacher, English and German; to be moved to the bot's words."""

from __future__ import annotations

from collections.abc import Mapping

from bot.grading.drawn.errors import TemplateProblem
from bot.grading.drawn.figures import Language

SENTENCES: Mapping[str, tuple[str, str]] = {
    # reading
    "empty": ("This part is empty. Fill it in.", "Dieser Teil ist leer. Füllen Sie ihn aus."),
    "nothing_drawn": (
        "Nothing is drawn. Write for example: s = 20..120 step 10.",
        "Es wird nichts gezogen. Schreiben Sie zum Beispiel: s = 20..120 Schritt 10.",
    ),
    "values_unread": (
        "“{found}” cannot be read. Write s = 20..120 step 10, or t in 4, 5, 8, or where s/t < 20; part them by ;",
        "„{found}“ ist nicht lesbar. Schreiben Sie s = 20..120 Schritt 10 oder t in 4, 5, 8 oder wobei s/t < 20, "
        "getrennt durch ;",
    ),
    "formula": (
        "The formula “{found}” cannot be read: {why}.",
        "Die Formel „{found}“ ist nicht lesbar. Prüfen Sie Klammern und Rechenzeichen, zum Beispiel {{s}}/{{t}}.",
    ),
    "slash_unclear": (
        "In “{found}” it is not clear what stands under the slash. Use brackets: a/(2b) or (a/2)b.",
        "In „{found}“ ist nicht klar, was unter dem Bruchstrich steht. Setzen Sie Klammern: a/(2b) oder (a/2)b.",
    ),
    "unknown_name": (
        "“{name}” in “{found}” is not among the values. Add it to the values, or correct the name.",
        "„{name}“ in „{found}“ steht nicht bei den Werten. Ergänzen Sie es dort, oder berichtigen Sie den Namen.",
    ),
    "condition": (
        "“{found}” is no condition. Write for example s/t < 20, or s/t is whole.",
        "„{found}“ ist keine Bedingung. Schreiben Sie zum Beispiel s/t < 20 oder s/t ist ganz.",
    ),
    "too_big": ("“{found}” is too long. Make it simpler.", "„{found}“ ist zu lang. Vereinfachen Sie es."),
    "too_many": (
        "There are {n}, at most {most} are possible.",
        "Es sind {n}, höchstens {most} sind möglich.",
    ),
    "too_many_names": (
        "More than {most} values have names. Use fewer.",
        "Mehr als {most} Werte haben Namen. Verwenden Sie weniger.",
    ),
    "too_many_items": (
        "A list holds 1 to {most} values. Change it.",
        "Eine Liste hat 1 bis {most} Werte. Ändern Sie sie.",
    ),
    "too_many_places": (
        "The text has more than {most} places for values. Shorten it.",
        "Der Text hat mehr als {most} Stellen für Werte. Kürzen Sie ihn.",
    ),
    "name_twice": (
        "“{name}” is drawn twice. Give one of them another name.",
        "„{name}“ wird zweimal gezogen. Geben Sie einem davon einen anderen Namen.",
    ),
    "name_taken": (
        "“{name}” cannot be a name here: it has a meaning already. Choose another.",
        "„{name}“ kann hier kein Name sein, denn es hat schon eine Bedeutung. Wählen Sie einen anderen.",
    ),
    "row_brackets": (
        "“{found}” should be {n} values in brackets, such as (3, 4, 5).",
        "„{found}“ sollte aus {n} Werten in Klammern bestehen, etwa (3, 4, 5).",
    ),
    "row_width": (
        "“{found}” has {found_n} values, but {n} names are drawn together.",
        "„{found}“ hat {found_n} Werte, es werden aber {n} Namen zusammen gezogen.",
    ),
    "list_number": ("“{found}” is no number.", "„{found}“ ist keine Zahl."),
    "list_comma": (
        "“{found}” can be read in two ways. Write a blank after every comma of the list.",
        "„{found}“ kann man auf zwei Arten lesen. Setzen Sie nach jedem Komma der Liste ein Leerzeichen.",
    ),
    "word_unfit": (
        "“{found}” cannot be drawn: a word has at most {most} characters and no braces.",
        "„{found}“ kann nicht gezogen werden: Ein Wort hat höchstens {most} Zeichen und keine geschweiften Klammern.",
    ),
    "placeholder": (
        "“{found}” holds braces with nothing that is drawn. Write {{s}} for a value, {{=s/t}} for a formula.",
        "„{found}“ hat Klammern, in denen nichts Gezogenes steht. Schreiben Sie {{s}} für einen Wert, {{=s/t}} für "
        "eine Formel.",
    ),
    "text_long": (
        "The text is longer than {most} characters. Shorten it.",
        "Der Text hat mehr als {most} Zeichen. Kürzen Sie ihn.",
    ),
    "figures_unread": (
        "“{found}” does not say how to write the answer. Write 0.0 for one decimal, 3 for three figures, or fraction.",
        "„{found}“ sagt nicht, wie die Antwort zu schreiben ist. Schreiben Sie 0,0 für eine Nachkommastelle, 3 für "
        "drei gültige Ziffern oder Bruch.",
    ),
    "unit_idle": (
        "Only a number or a choice has a unit. Leave “{found}” out.",
        "Nur eine Zahl oder eine Auswahl hat eine Einheit. Lassen Sie „{found}“ weg.",
    ),
    "unit_two_ways": (
        "The unit “{found}” can be read in two ways. Use brackets, for example J/(kg K).",
        "Die Einheit „{found}“ kann man auf zwei Arten lesen. Setzen Sie Klammern, zum Beispiel J/(kg K).",
    ),
    "unit_unknown": (
        "The unit “{found}” is not known here. Use a usual symbol, for example m/s².",
        "Die Einheit „{found}“ ist hier nicht bekannt. Verwenden Sie ein übliches Zeichen, zum Beispiel m/s².",
    ),
    "options_count": (
        "A choice needs 1 to {most} wrong options; there are {n}. Three is usual.",
        "Eine Auswahl braucht 1 bis {most} falsche Möglichkeiten; es sind {n}. Üblich sind drei.",
    ),
    "alternatives_idle": (
        "A choice has one right option. Leave the alternatives empty.",
        "Eine Auswahl hat genau eine richtige Möglichkeit. Lassen Sie die Alternativen leer.",
    ),
    "tolerance_idle": (
        "Only a number has a tolerance. Leave it empty.",
        "Nur eine Zahl hat eine Toleranz. Lassen Sie sie leer.",
    ),
    "tolerance": (
        "The tolerance {found} is not possible. Write an amount such as 0.05, or a share such as 5 %.",
        "Die Toleranz {found} ist nicht möglich. Schreiben Sie einen Betrag wie 0,05 oder einen Anteil wie 5 %.",
    ),
    "unused_name": (
        "“{name}” is drawn but used nowhere. Use it or take it out.",
        "„{name}“ wird gezogen, aber nirgends verwendet. Verwenden Sie es, oder nehmen Sie es heraus.",
    ),
    # drawing
    "too_rare": (
        "Hardly any draw fulfils the conditions. Loosen them, or narrow the ranges to what fits.",
        "Kaum eine Ziehung erfüllt die Bedingungen. Lockern Sie sie, oder engen Sie die Bereiche ein.",
    ),
    "one_draw": (
        "Every draw has the same values. Give a longer list or range.",
        "Jede Ziehung hat dieselben Werte. Geben Sie eine längere Liste oder einen größeren Bereich an.",
    ),
    "range_empty": (
        "The range of “{name}” can be empty. Put the lower bound first and use a step above zero.",
        "Der Bereich von „{name}“ kann leer sein. Setzen Sie die kleinere Grenze nach vorn und eine Schrittweite "
        "über null.",
    ),
    "range_long": (
        "The range of “{name}” has more than {most} steps. Use a larger step.",
        "Der Bereich von „{name}“ hat mehr als {most} Schritte. Wählen Sie eine größere Schrittweite.",
    ),
    "divided_by_zero": (
        "A division by zero can happen. Leave the zero out (except 0), or add a condition.",
        "Es kann durch null geteilt werden. Lassen Sie die Null weg (ohne 0), oder fügen Sie eine Bedingung hinzu.",
    ),
    "no_value": (
        "The formula can be without a value, as the root of a negative number is. Add a condition.",
        "Die Formel kann ohne Wert sein, wie die Wurzel einer negativen Zahl. Fügen Sie eine Bedingung hinzu.",
    ),
    "too_large": (
        "The number can become too large. Use smaller values.",
        "Die Zahl kann zu groß werden. Wählen Sie kleinere Werte.",
    ),
    "too_small": (
        "The number can come too near to zero. Use other values.",
        "Die Zahl kann der Null zu nahe kommen. Wählen Sie andere Werte.",
    ),
    "not_whole": (
        "A function that needs whole numbers can get others. Add a condition: where … is whole.",
        "Eine Funktion, die ganze Zahlen braucht, kann andere bekommen. Fügen Sie hinzu: wobei … ist ganz.",
    ),
    "no_fraction": (
        "The number is no fraction that can be written. Wish decimals, or use other values.",
        "Die Zahl ist kein Bruch, den man schreiben kann. Wünschen Sie Dezimalen, oder wählen Sie andere Werte.",
    ),
    "word_in_formula": (
        "“{name}” is a word and cannot be reckoned with.",
        "„{name}“ ist ein Wort, damit kann man nicht rechnen.",
    ),
    "many_figures": (
        "{found} has more figures than a student should type or read. Round it, or choose other values.",
        "{found} hat mehr Ziffern, als man eintippen oder lesen sollte. Runden Sie, oder wählen Sie andere Werte.",
    ),
    "needs_tolerance": (
        "The answer {found} is rounded by more than the tolerance. Allow more, or show more figures.",
        "Die Antwort {found} ist stärker gerundet, als die Toleranz erlaubt. Erlauben Sie mehr, oder zeigen Sie mehr "
        "Ziffern.",
    ),
    "answer_refused": (
        "The answer {found} would not be taken as right as it is written. Change figures, unit or tolerance.",
        "Die Antwort {found} würde so, wie sie dasteht, nicht anerkannt. Ändern Sie Ziffern, Einheit oder Toleranz.",
    ),
    "wrong_is_right": (
        "{found} is to be wrong, but {answer} is the answer. Exclude such values, or change the error.",
        "{found} soll falsch sein, die Antwort ist aber {answer}. Schließen Sie solche Werte aus, oder ändern Sie den "
        "Fehler.",
    ),
    "wrong_twice": (
        "The typical errors {first} and {second} cannot be told apart. Exclude such values, or drop one.",
        "Die typischen Fehler {first} und {second} sind nicht zu unterscheiden. Schließen Sie solche Werte aus, oder "
        "lassen Sie einen weg.",
    ),
    # keys
    "key_empty": ("The answer can be empty.", "Die Antwort kann leer sein."),
    "key_options": (
        "A choice needs 1 to {most} wrong options; there are {n}.",
        "Eine Auswahl braucht 1 bis {most} falsche Möglichkeiten; es sind {n}.",
    ),
    "key_options_same": (
        "The options {first} and {second} can be the same. Exclude such values: where … ≠ ….",
        "Die Möglichkeiten {first} und {second} können gleich sein. Schließen Sie solche Werte aus: wobei … ≠ ….",
    ),
    "key_option_long": (
        "The option {option} is longer than {most} characters. Shorten it.",
        "Die Möglichkeit {option} hat mehr als {most} Zeichen. Kürzen Sie sie.",
    ),
    "key_text_long": (
        "{found} is too long to be typed the same way twice. Ask for a word or two.",
        "{found} ist zu lang, um zweimal gleich getippt zu werden. Fragen Sie nach ein, zwei Wörtern.",
    ),
    "key_text_both": (
        "{found} stands as right and as wrong answer. Remove it from one of them.",
        "{found} steht als richtige und als falsche Antwort da. Entfernen Sie es an einer Stelle.",
    ),
    "key_formula": (
        "The formula {found} cannot be used: {why}.",
        "Die Formel {found} ist nicht verwendbar. Prüfen Sie Klammern und Bruchstriche.",
    ),
}
"""English and German sentence of every code."""

_EXAMPLE = ("For example with {values}.", "Zum Beispiel mit {values}.")


def sentence(problem: TemplateProblem, language: Language) -> str:
    """Say what is wrong, what to do, and with which values it shows.

    Examples
    --------
    >>> sentence(TemplateProblem("divided_by_zero", "answer", example={"b": "0"}), "en").partition(". ")[0]
    'A division by zero can happen'
    """
    column = 1 if language == "de" else 0
    said = SENTENCES[problem.code][column].format_map(problem.data)
    if not problem.example:
        return said
    values = ", ".join(f"{name} = {value}" for name, value in problem.example.items())
    return f"{said} {_EXAMPLE[column].format(values=values)}"
