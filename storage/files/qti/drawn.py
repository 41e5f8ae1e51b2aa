"""Template variables of QTI as drawn values of ours. Imported only by the limited child process.

References
----------
1EdTech, QTI 3.0 (2022) and 2.1.1 (2012), template processing: ``randomInteger``, ``random``, ``templateConstraint``,
``setTemplateValue``, ``setCorrectResponse``; and the expressions of response processing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from storage.files.qti.marks import LeftOut, Mark

_SIGNS = {"sum": " + ", "product": " * ", "subtract": " - ", "divide": " / ", "power": " ^ "}
_COMPARED = {"lt": "<", "gt": ">", "lte": "<=", "gte": ">=", "equal": "=", "match": "="}


@dataclass
class Draws:
    """What an item draws.

    Attributes
    ----------
    values : list of str
        ``a = 2..9`` for what is drawn and ``c = a * b`` for what follows from it, in order.
    where : list of str
        Conditions on them.
    names : set of str
        The variables that were set.
    correct : dict of str to str
        The right answers that are set, by the name of the response.
    drawn : bool
        Whether anything is drawn at random.
    """

    values: list[str] = field(default_factory=list)
    where: list[str] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    correct: dict[str, str] = field(default_factory=dict)
    drawn: bool = False

    @property
    def written(self) -> str:
        """The values as they stand in the column for them."""
        return "; ".join(self.values)


def draws_of(item: Mark) -> Draws:
    """Read the template processing of an item.

    Raises
    ------
    LeftOut
        Where something is used that cannot be drawn here.
    """
    found = Draws()
    processing = item.child("templateProcessing")
    for rule in processing.children if processing else ():
        name, inner = rule.attributes.get("identifier", ""), rule.children
        if rule.name == "setTemplateValue" and inner:
            _set(found, name, inner[0])
        elif rule.name == "setCorrectResponse" and inner:
            found.correct[name] = expression(inner[0], found)
        elif rule.name == "templateConstraint" and inner:
            found.where += _conditions(inner[0], found)
        else:
            raise LeftOut("template", rule.name)
    if item.first("templateDeclaration") is not None and not found.drawn:
        raise LeftOut("template", "templateDeclaration")
    return found


def _set(found: Draws, name: str, rule: Mark) -> None:
    if rule.name == "randomInteger":
        asked = (("min", "0"), ("max", ""), ("step", "1"))
        low, high, step = (rule.attributes.get(one, default).strip() for one, default in asked)
        if not all(part.lstrip("-").isdigit() for part in (low, high, step)):
            raise LeftOut("template", "randomInteger")
        found.values.append(f"{name} = {low}..{high}" + (f" step {step}" if step != "1" else ""))
        found.drawn = True
    elif rule.name == "random" and rule.children and rule.children[0].name in ("multiple", "ordered"):
        parts = [expression(one, found) for one in rule.children[0].children]
        found.values.append(f"{name} in {', '.join(parts)}")
        found.drawn = True
    else:
        found.values.append(f"{name} = {expression(rule, found)}")
    found.names.add(name)


def expression(rule: Mark, found: Draws) -> str:
    """Write an expression as a formula in the values."""
    inner = [expression(one, found) for one in rule.children]
    match rule.name:
        case "variable":
            name = rule.attributes.get("identifier", "")
            return name if name in found.names else _no(name)
        case "baseValue":
            return rule.text.strip()
        case "sum" | "product" | "subtract" | "divide" | "power" if len(inner) > 1:
            return f"({_SIGNS[rule.name].join(inner)})"
        case "round" if len(inner) == 1:
            return f"round({inner[0]}; 0)"
        case "integerToFloat" if len(inner) == 1:
            return inner[0]
        case _:
            return _no(rule.name)


def _no(name: str) -> str:
    raise LeftOut("template", name)


def _conditions(rule: Mark, found: Draws) -> list[str]:
    if rule.name == "and":
        return [one for part in rule.children for one in _conditions(part, found)]
    turned = rule.name == "not" and len(rule.children) == 1
    compared = rule.children[0] if turned else rule
    sign = _COMPARED.get(compared.name)
    if sign is None or len(compared.children) != 2 or (turned and sign != "="):
        raise LeftOut("template", rule.name)
    left, right = (expression(one, found) for one in compared.children)
    return [f"{left} {'!=' if turned else sign} {right}"]
