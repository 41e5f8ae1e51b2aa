"""Text normal forms, unit conversions and physical constants against published values.

Sources: Unicode normalisation form KC, UAX #15 (https://www.unicode.org/reports/tr15/); SI brochure, 9th edition
(BIPM 2019), NIST Special Publication 811, IAU 2012 Resolution B2 (au) for exact conversions; CODATA 2022
recommended values (https://physics.nist.gov/cuu/Constants/).
"""

import unicodedata

import pytest

from bot.grading import numbers, units
from bot.grading.grade import Detail, Outcome, grade
from bot.grading.keys import TextKey
from bot.grading.signs import plain
from bot.grading.texts import words
from bot.grading.upload import key_from

# name | code points | NFKC (UAX #15) | what we make of it
SIGNS = """
fullwidth hyphen-minus | FF0D | 002D | 002D
minus sign | 2212 | 2212 | 002D
en dash | 2013 | 2013 | 002D
hyphen | 2010 | 2010 | 002D
vulgar fraction one half | 00BD | 0031 2044 0032 | 0031 002F 0032
circled digit one | 2460 | 0031 | 0031
fullwidth digits 12 | FF11 FF12 | 0031 0032 | 0031 0032
Arabic-Indic digits 123 | 0661 0662 0663 | 0661 0662 0663 | 0031 0032 0033
extended Arabic-Indic digits 12 | 06F1 06F2 | 06F1 06F2 | 0031 0032
Devanagari digits 12 | 0967 0968 | 0967 0968 | 0031 0032
ligature fi | FB01 | 0066 0069 | 0066 0069
angstrom sign | 212B | 00C5 | 00C5
A + combining ring | 0041 030A | 00C5 | 00C5
ohm sign | 2126 | 03A9 | 03A9
micro sign | 00B5 | 03BC | 03BC
Greek mu | 03BC | 03BC | 03BC
degree celsius | 2103 | 00B0 0043 | 00B0 0043
square m squared | 33A1 | 006D 0032 | 006D 0032
multiplication sign | 00D7 | 00D7 | 00B7
fraction slash | 2044 | 2044 | 002F
long s dot above + dot below | 1E9B 0323 | 1E69 | 1E69
fullwidth A | FF21 | 0041 | 0041
"""
ROWS = [[part.strip() for part in line.split("|")] for line in SIGNS.strip().splitlines()]


def text_of(codes: str) -> str:
    return "".join(chr(int(code, 16)) for code in codes.split())


@pytest.mark.parametrize(("name", "codes", "nfkc", "ours"), ROWS, ids=[row[0] for row in ROWS])
def test_signs_are_normalised_as_uax_15_says_and_the_rest_by_name(
    name: str, codes: str, nfkc: str, ours: str
) -> None:
    assert unicodedata.normalize("NFKC", text_of(codes)) == text_of(nfkc)
    assert plain(text_of(codes)) == text_of(ours)


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f", "\u2009"], ids=["no-break", "narrow", "thin"])
def test_every_blank_of_uax_15_is_a_blank(blank: str) -> None:
    assert plain(f"5{blank}m") == "5 m"
    written = numbers.read(f"1{blank}234 m")
    assert written is not None
    assert written.readings[0].value == 1234


# Casefolded NFKC (UAX #15; Unicode Standard 3.13, default caseless matching).
FOLDED = [
    ("\u00df", "ss"),
    ("\u212b", "\u00e5"),
    ("\u2126", "\u03c9"),
    ("\u1e9b\u0323", "\u1e69"),
    ("\uff21", "a"),
    ("\ufb01", "fi"),
]


@pytest.mark.parametrize(("written", "folded"), FOLDED)
def test_texts_compare_in_casefolded_normal_form(written: str, folded: str) -> None:
    assert words(written) == words(folded)
    assert grade(TextKey((written,)), folded).right


def test_raised_digits_are_powers_before_the_normal_form_makes_them_digits() -> None:
    # The trap: NFKC alone turns 5² into 52.
    assert unicodedata.normalize("NFKC", "5\u00b2") == "52"
    assert plain("5\u00b2") == "5^2"
    assert not grade(key_from("number", "52"), "5\u00b2").right
    assert grade(key_from("number", "2.5e5"), "2,5\u00d710\u2075").right


# value, from, to, expected; exact by definition
CONVERSIONS = """
72 | km/h | m/s | 20.0
1 | kWh | J | 3600000.0
0 | °C | K | 273.15
25 | °C | °F | 77.0
-40 | °C | °F | -40.0
1 | atm | Pa | 101325.0
1 | bar | kPa | 100.0
1 | cal | J | 4.184
1 | eV | J | 1.602176634e-19
1 | inch | mm | 25.4
1 | mile | m | 1609.344
1 | lb | kg | 0.45359237
1 | litre | m³ | 0.001
1 | hectare | m^2 | 10000.0
1 | tonne | kg | 1000.0
1 | au | m | 149597870700.0
1 | light year | m | 9460730472580800.0
5 | µm | m | 5e-06
5 | μm | m | 5e-06
5 | um | m | 5e-06
3 | MPa | Pa | 3000000.0
2.5 | mmol/l | mol/m³ | 2.5
90 | degree | radian | 1.5707963267948966
90 | ° | rad | 1.5707963267948966
1 | MiB | byte | 1048576
"""
CONVERSION_ROWS = [[part.strip() for part in line.split("|")] for line in CONVERSIONS.strip().splitlines()]


@pytest.mark.parametrize(("value", "source", "target", "expected"), CONVERSION_ROWS)
def test_units_convert_as_defined(value: str, source: str, target: str, expected: str) -> None:
    converted = units.convert(float(value), units.read(source)[0], units.read(target)[0])
    assert converted == pytest.approx(float(expected), rel=1e-9)


@pytest.mark.parametrize(("value", "source", "target", "expected"), CONVERSION_ROWS)
def test_an_answer_in_another_unit_is_right(value: str, source: str, target: str, expected: str) -> None:
    key = key_from("number", expected, unit=target)
    assert grade(key, f"{value} {source}").outcome is Outcome.RIGHT
    assert grade(key, f"{float(value) + 7} {source}").outcome is Outcome.WRONG


# CODATA 2022. Spellings as students write them; the value is the key, to three figures or exactly.
CONSTANTS = [
    ("299792458", "m s^-1", "3.00×10⁸ m/s"),
    ("299792458", "m s^-1", "299 792 458 m/s"),
    ("6.62607015e-34", "J s", "6,626·10⁻³⁴ Js"),
    ("1.602176634e-19", "C", "1.60e-19 C"),
    ("1.380649e-23", "J/K", "1.38 x 10^-23 J/K"),
    ("6.02214076e+23", "mol^-1", "6.022×10^23 1/mol"),
    ("8.31446261815324", "J mol^-1 K^-1", "8,314 J/(mol·K)"),
    ("6.6743e-11", "m^3 kg^-1 s^-2", "6.674e-11 N m²/kg²"),
    ("9.80665", "m s^-2", "9.807 m/s²"),
    ("9.1093837139e-31", "kg", "9.11×10⁻²⁸ g"),
    ("1.67262192595e-27", "kg", "1.673e-27 kg"),
    ("8.8541878188e-12", "F m^-1", "8.854×10⁻¹² As/(Vm)"),
    ("96485.33212331001", "C mol^-1", "96 485 C/mol"),
    ("5.6703744191844314e-08", "W m^-2 K^-4", "5.67e-8 W/(m^2 K^4)"),
    ("10973731.568157", "m^-1", "1.097×10⁷ m⁻¹"),
    ("101325.0", "Pa", "1.01325 bar"),
    ("0.022413969545014137", "m^3 mol^-1", "22.4 L/mol"),
]


@pytest.mark.parametrize(("value", "unit", "given"), CONSTANTS)
def test_a_codata_constant_is_right_as_students_write_it(value: str, unit: str, given: str) -> None:
    verdict = grade(key_from("number", value, unit=unit), given)
    assert verdict.outcome is Outcome.RIGHT, verdict


def test_the_known_traps_of_unit_libraries_are_avoided() -> None:
    # pint 0.25.3 reads "1,5 m" as 15 metre, raises on "20 °C", does not know "Kg".
    assert grade(key_from("number", "1.5 m"), "1,5 m").right
    assert not grade(key_from("number", "15 m"), "1,5 m").right
    assert grade(key_from("number", "20 °C"), "293.15 K").right
    assert grade(key_from("number", "5 kg"), "5 Kg").right
    assert grade(key_from("number", "5 mM"), "5 Mm").detail is Detail.WRONG_DIMENSION
