"""Units as students write them; the list behind them is known to the conversion library, and only the list."""

import pytest

from bot.grading import unitnames
from bot.grading.units import convert, offered, read, same_dimension

SPELLINGS = {
    "m/s²": ["m/s^2", "m s^-2", "m·s⁻²", "m/s/s", "m.s-2", "metres per second squared", "㎨"],
    "g/cm³": ["g/cm3", "g cm^-3", "grams per cubic centimetre", "g/(cm^3)", "g/ccm", "g / cm ³"],
    "km/h": ["kmh", "kph", "KM/H", "kilometers per hour"],
    "°C": ["℃", "° C", "degrees Celsius", "deg C", "celsius", "degC"],
    "kg": ["Kg", "KG", "kilograms"],
    "Ω": ["Ω", "ohm", "Ohms"],
    "μm": ["µm", "um", "micrometre"],
    "W/(m²·K)": ["W/(m^2 K)", "W m^-2 K^-1", "W/m²/K"],
    "Pa": ["pa", "PA", "N/m²"],
    "N·m": ["Nm", "N m", "newton metre"],
    "1/s": ["s^-1", "s⁻¹", "per second"],
    "%": ["percent", "per cent"],
    "L": ["l", "litre", "dm³"],
}
NO_UNITS = [
    "",
    "qwerty",
    "m/s)",
    "(m",
    "m^",
    "m^^2",
    "m^99999",
    "((((((m))))))",
    "5",
    "m//s",
    "/",
    "__import__",
    "m" * 80,
]


@pytest.mark.parametrize(("unit", "spelling"), [(u, s) for u, many in SPELLINGS.items() for s in many])
def test_a_unit_is_the_same_in_every_spelling(unit: str, spelling: str) -> None:
    assert any(convert(1.0, own, read(unit)[0]) == pytest.approx(1.0, rel=1e-12) for own in read(spelling))


@pytest.mark.parametrize("spelling", [*SPELLINGS, *(s for many in SPELLINGS.values() for s in many)])
def test_a_unit_as_shown_is_read_as_the_same_unit(spelling: str) -> None:
    for unit in read(spelling):
        assert unit.factors in [again.factors for again in read(unit.shown)]


@pytest.mark.parametrize("text", NO_UNITS)
def test_what_is_no_unit_is_not_read(text: str) -> None:
    assert read(text) == ()


def test_every_name_of_the_list_is_known_to_the_conversion_library() -> None:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
    products = [*unitnames.symbols().values(), *unitnames.words().values()]
    names = {name for product in products for name, _ in product}
    assert [name for name in names if name not in registry] == []


def test_capitals_count_where_the_list_has_the_spelling() -> None:
    assert not same_dimension(read("mM")[0], read("Mm")[0])
    assert convert(1.0, read("MW")[0], read("mW")[0]) == pytest.approx(1e9)


def test_wrong_capitals_have_every_meaning_they_could_have() -> None:
    assert {unit.factors[0][0] for unit in read("mw")} == {"megawatt", "milliwatt"}


def test_a_slash_before_a_product_is_read_both_ways() -> None:
    assert [convert(1.0, unit, read("J/(kg·K)")[0]) for unit in read("J/kg K")] == [None, 1.0]


def test_other_dimensions_do_not_convert() -> None:
    assert convert(5.0, read("kg")[0], read("m")[0]) is None


def test_a_degree_in_a_product_is_a_step_not_a_temperature() -> None:
    assert convert(1.0, read("J/(kg °C)")[0], read("J/(kg K)")[0]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("unit", "choices"),
    [("g/cm³", ("kg/m³", "g/cm³")), ("kg/m³", ("kg/m³", "g/cm³")), ("nm", ("m", "nm")), ("kg·m²", ())],
)
def test_the_units_offered_do_not_tell_which_is_asked(unit: str, choices: tuple[str, ...]) -> None:
    assert offered(read(unit)[0]) == choices
