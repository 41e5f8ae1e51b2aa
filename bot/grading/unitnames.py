"""The units that an answer may use: symbols and words as students write them, mapped to vetted names.

This list is the gate in front of the conversion library: only names made here ever reach it. Symbols count
capitals (mM is not Mm); a spelling that is in the list in no capitalisation is looked up without regard to
capitals, and may then mean several units.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

PREFIXES: Mapping[str, str] = {
    "f": "femto", "p": "pico", "n": "nano", "μ": "micro", "u": "micro", "m": "milli", "c": "centi", "d": "deci",
    "h": "hecto", "k": "kilo", "M": "mega", "G": "giga", "T": "tera",
}  # fmt: skip

# symbol: (vetted name, prefixes in school use). The names are those of the conversion library.
SYMBOLS: Mapping[str, tuple[str, str]] = {
    # SI base units and what is counted with them
    "m": ("meter", "fpnμumcdkM"), "g": ("gram", "pnμumkM"), "s": ("second", "fpnμum"), "A": ("ampere", "nμumk"),
    "K": ("kelvin", "μumk"), "mol": ("mole", "pnμumk"), "cd": ("candela", "m"),
    # derived units with names (SI brochure, 9th edition, table 4)
    "rad": ("radian", "m"), "Hz": ("hertz", "mkMGT"), "N": ("newton", "nμumkM"), "Pa": ("pascal", "mhkMG"),
    "J": ("joule", "nμumkMGT"), "W": ("watt", "pnμumkMGT"), "C": ("coulomb", "pnμumk"), "V": ("volt", "nμumkM"),
    "F": ("farad", "fpnμum"), "Ω": ("ohm", "μumkMG"), "S": ("siemens", "nμum"), "Wb": ("weber", "μum"),
    "T": ("tesla", "pnμum"), "H": ("henry", "nμum"), "lm": ("lumen", ""), "lx": ("lux", "k"),
    "Bq": ("becquerel", "kMGT"), "Gy": ("gray", "μum"), "Sv": ("sievert", "nμum"), "kat": ("katal", "nμum"),
    # units used beside the SI (SI brochure, table 8)
    "min": ("minute", ""), "h": ("hour", ""), "d": ("day", ""), "a": ("year", "kMG"), "°": ("degree", ""),
    "l": ("liter", "nμumcdh"), "L": ("liter", "nμumcdh"), "ha": ("hectare", ""), "t": ("metric_ton", "kMG"),
    "eV": ("electron_volt", "mkMGT"), "u": ("unified_atomic_mass_unit", ""), "Da": ("dalton", "k"),
    "au": ("astronomical_unit", ""), "AU": ("astronomical_unit", ""), "ly": ("light_year", ""),
    "pc": ("parsec", "kMG"), "Å": ("angstrom", ""), "°C": ("degree_Celsius", ""), "°F": ("degree_Fahrenheit", ""),
    # common in classrooms
    "bar": ("bar", "mk"), "atm": ("standard_atmosphere", ""), "mmHg": ("millimeter_Hg", ""),
    "cal": ("calorie", "k"), "Wh": ("watt_hour", "mkMGT"), "M": ("molar", "nμum"),
    "in": ("inch", ""), "ft": ("foot", ""), "yd": ("yard", ""), "mi": ("mile", ""), "lb": ("pound", ""),
    "oz": ("ounce", ""), "rpm": ("revolutions_per_minute", ""), "%": ("percent", ""), "ppm": ("ppm", ""),
    "bit": ("bit", "kMGT"), "B": ("byte", "kMGT"),
}  # fmt: skip

# What is written as one word but is a product: names and powers.
COMPOUNDS: Mapping[str, tuple[tuple[str, int], ...]] = {
    "Nm": (("newton", 1), ("meter", 1)), "kNm": (("kilonewton", 1), ("meter", 1)),
    "Ns": (("newton", 1), ("second", 1)), "As": (("ampere", 1), ("second", 1)),
    "Ah": (("ampere", 1), ("hour", 1)), "mAh": (("milliampere", 1), ("hour", 1)),
    "Ws": (("watt", 1), ("second", 1)), "kWs": (("kilowatt", 1), ("second", 1)),
    "Js": (("joule", 1), ("second", 1)), "Vs": (("volt", 1), ("second", 1)),
    "Vm": (("volt", 1), ("meter", 1)), "Am": (("ampere", 1), ("meter", 1)),
    "kmh": (("kilometer", 1), ("hour", -1)), "kph": (("kilometer", 1), ("hour", -1)),
    "kmph": (("kilometer", 1), ("hour", -1)), "mph": (("mile", 1), ("hour", -1)),
    "mps": (("meter", 1), ("second", -1)), "cc": (("centimeter", 3),), "ccm": (("centimeter", 3),),
    "qm": (("meter", 2),), "sqm": (("meter", 2),), "qkm": (("kilometer", 2),), "cbm": (("meter", 3),),
    "KiB": (("kibibyte", 1),), "MiB": (("mebibyte", 1),), "GiB": (("gibibyte", 1),), "TiB": (("tebibyte", 1),),
}  # fmt: skip

# Words, singular; a plural s is understood. Those of the second row take the prefixes as words (kilometre).
WORDS: Mapping[str, str] = {
    "minute": "minute", "min": "minute", "mins": "minute", "hour": "hour", "hr": "hour", "day": "day", "week": "week",
    "year": "year", "yr": "year", "sec": "second", "inch": "inch", "inches": "inch", "foot": "foot", "feet": "foot",
    "yard": "yard", "mile": "mile", "pound": "pound", "lbs": "pound", "ounce": "ounce", "hectare": "hectare",
    "tonne": "metric_ton", "ton": "metric_ton", "degree": "degree", "deg": "degree", "celsius": "degree_Celsius",
    "centigrade": "degree_Celsius", "fahrenheit": "degree_Fahrenheit", "degc": "degree_Celsius",
    "degf": "degree_Fahrenheit", "lightyear": "light_year", "percent": "percent", "atmosphere":
    "standard_atmosphere", "angstrom": "angstrom", "amps": "ampere", "amp": "ampere", "hertz": "hertz",
    "siemens": "siemens", "lux": "lux",
    # German, beside those that are spelled alike
    "stunde": "hour", "stunden": "hour", "std": "hour", "tag": "day", "tage": "day", "tagen": "day",
    "woche": "week", "wochen": "week", "jahr": "year", "jahre": "year", "jahren": "year", "minuten": "minute",
    "sek": "second", "sekunden": "second", "prozent": "percent", "grad": "degree", "tonnen": "metric_ton",
    "hektar": "hectare", "lichtjahr": "light_year", "lichtjahre": "light_year", "zoll": "inch",
    "kilowattstunden": "kilowatt_hour", "wattstunden": "watt_hour",
}  # fmt: skip
PREFIXABLE_WORDS: Mapping[str, str] = {
    "metre": "meter", "meter": "meter", "gram": "gram", "gramme": "gram", "second": "second", "ampere": "ampere",
    "kelvin": "kelvin", "mole": "mole", "candela": "candela", "radian": "radian", "hertz": "hertz", "newton": "newton",
    "pascal": "pascal", "joule": "joule", "watt": "watt", "coulomb": "coulomb", "volt": "volt", "farad": "farad",
    "ohm": "ohm", "weber": "weber", "tesla": "tesla", "henry": "henry", "lumen": "lumen", "becquerel": "becquerel",
    "gray": "gray", "sievert": "sievert", "litre": "liter", "liter": "liter", "bar": "bar", "calorie": "calorie",
    "electronvolt": "electron_volt", "byte": "byte", "bit": "bit", "parsec": "parsec",
    "gramm": "gram", "sekunde": "second", "mol": "mole", "kalorie": "calorie", "kalorien": "calorie",
    "elektronenvolt": "electron_volt", "wattstunde": "watt_hour",
}  # fmt: skip
# Prefixes that German spells in its own way.
_GERMAN_PREFIXES = {"zenti": "centi", "dezi": "deci", "mikro": "micro", "piko": "pico", "hekto": "hecto"}
# Words that are products, as German writes them together and English with a blank.
_PRODUCT_WORDS: Mapping[str, tuple[tuple[str, int], ...]] = {
    "newtonmeter": (("newton", 1), ("meter", 1)), "newtonsekunde": (("newton", 1), ("second", 1)),
    "amperestunde": (("ampere", 1), ("hour", 1)), "wattsekunde": (("watt", 1), ("second", 1)),
}  # fmt: skip

Product = tuple[tuple[str, int], ...]


@lru_cache(maxsize=1)
def symbols() -> Mapping[str, Product]:
    """Every symbol with its prefixes, capitals as they must be."""
    table: dict[str, Product] = {}
    for symbol, (name, prefixes) in SYMBOLS.items():
        table.update({p + symbol: ((PREFIXES[p] + name, 1),) for p in prefixes})
    # Plain symbols come last: "min" is the minute and "cd" the candela whatever a prefix could make of them.
    table.update({symbol: ((name, 1),) for symbol, (name, _) in SYMBOLS.items()})
    table.update(COMPOUNDS)
    return table


@lru_cache(maxsize=1)
def words() -> Mapping[str, Product]:
    """Every unit word in small letters, singular and plural."""
    table: dict[str, Product] = {}
    for word, name in PREFIXABLE_WORDS.items():
        table.update({prefix + word: ((prefix + name, 1),) for prefix in PREFIXES.values()})
        table.update({own + word: ((prefix + name, 1),) for own, prefix in _GERMAN_PREFIXES.items()})
    plain = {**PREFIXABLE_WORDS, **WORDS}
    table.update({word: ((name, 1),) for word, name in plain.items()})
    table.update(_PRODUCT_WORDS)
    table.update({word + "s": product for word, product in list(table.items())})
    return table


@lru_cache(maxsize=1)
def without_capitals() -> Mapping[str, tuple[Product, ...]]:
    """Return what a spelling can mean when its capitals are wrong (``Kg``, ``pa``, ``KWH``)."""
    table: dict[str, set[Product]] = {}
    for symbol, product in symbols().items():
        table.setdefault(symbol.casefold(), set()).add(product)
    return {spelling: tuple(sorted(products)) for spelling, products in table.items()}


def meanings(spelling: str) -> tuple[Product, ...]:
    """Return what one spelling can mean: exact symbol, word, else any capitalisation; empty when unknown."""
    exact = symbols().get(spelling) or words().get(spelling.casefold())
    return (exact,) if exact else without_capitals().get(spelling.casefold(), ())
