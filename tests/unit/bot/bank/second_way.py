"""The answers of the bank computed a second way: from the wording of each question, in plain Python or with pint.

Physics goes through pint's own quantities, so that units are checked as well. Nothing here is read from the bank.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Mapping
from fractions import Fraction
from itertools import permutations
from typing import Any

import numpy as np
import pint

Q: Any = pint.UnitRegistry(cache_folder=None).Quantity
Values = Mapping[str, Any]
Way = Callable[[Values], Any]

G = Q(9.81, "newton/kilogram")
SOUND = Q(340, "meter/second")


def mixture(v: Values) -> Any:
    """Temperature at which the heat given equals the heat taken, by bisection."""
    low, high = v["A"], v["B"]
    for _ in range(80):
        middle = (low + high) / 2
        taken, given = v["a"] * (middle - v["A"]), v["b"] * (v["B"] - middle)
        low, high = (middle, high) if taken < given else (low, middle)
    return low


def blink(v: Values) -> int:
    first, second = v["k"] * v["m"], v["k"] * v["n"]
    return next(t for t in range(1, 10**6) if t % first == 0 and t % second == 0)


def common_divisor(v: Values) -> int:
    one, two = int(v["k"] * v["m"]), int(v["k"] * v["n"])
    return max(d for d in range(1, one + 1) if one % d == 0 and two % d == 0)


def solved(*equations: tuple[float, ...]) -> Any:
    """Solve linear equations given as rows of coefficients with the right side last."""
    rows = np.array(equations, dtype=float)
    return np.linalg.solve(rows[:, :-1], rows[:, -1])


def two_reds(v: Values) -> Fraction:
    marbles = ["red"] * int(v["r"]) + ["blue"] * int(v["b"])
    pairs = list(permutations(marbles, 2))
    return Fraction(pairs.count(("red", "red")), len(pairs))


def account(v: Values) -> float:
    balance = float(v["K"])
    for _ in range(int(v["n"])):
        balance += balance * v["p"] / 100
    return balance


def polynomial(*coefficients: float) -> Callable[[Any], Any]:
    """A polynomial to compare a formula with at many points, highest power first."""
    return lambda x: np.polyval(np.array(coefficients, dtype=float), x)


PHYSICS: Mapping[str, Way] = {
    "springs-two-lengths": lambda v: Q(v["F"], "N") / (Q(v["M"], "cm") - Q(v["L"], "cm")),
    "levers-arm": lambda v: Q(v["F"], "N") * Q(v["a"], "m") / Q(v["G"], "N"),
    "power-time": lambda v: Q(v["W"], "J") / Q(v["P"], "W"),
    "electric-power-cost": lambda v: Q(v["P"], "W") * Q(v["t"], "hour"),
    "ohms-law-voltage": lambda v: Q(v["R"], "ohm") * Q(v["I"], "A"),
    "speed-cyclist": lambda v: Q(v["s"], "m") / Q(v["t"], "s"),
    "speed-distance-train": lambda v: Q(v["v"], "km/hour") * Q(v["t"], "minute"),
    "speed-time-walk": lambda v: Q(v["s"], "m") / Q(v["v"], "m/s"),
    "speed-kmh-to-ms": lambda v: Q(v["v"], "km/hour").to("m/s").magnitude,
    "speed-equation-of-motion": lambda v: lambda t: v["b"] + v["v"] * t,
    "acceleration-mean": lambda v: (Q(v["v"], "m/s") - Q(v["u"], "m/s")) / Q(v["t"], "s"),
    "acceleration-final-speed": lambda v: Q(v["u"], "m/s") + Q(v["a"], "m/s**2") * Q(v["t"], "s"),
    "density-from-mass-and-volume": lambda v: Q(v["m"], "g") / Q(v["V"], "cm**3"),
    "density-mass-of-cube": lambda v: Q(v["a"], "cm") ** 3 * Q(v["d"], "g/cm**3"),
    "density-floats": lambda v: "floats" if Q(v["m"], "g") / Q(v["V"], "cm**3") < Q(1000, "kg/m**3") else "sinks",
    "force-weight": lambda v: Q(v["m"], "kg") * G,
    "force-newton": lambda v: Q(v["m"], "kg") * Q(v["a"], "m/s**2"),
    "springs-constant": lambda v: Q(v["F"], "N") / Q(v["s"], "cm"),
    "springs-proportional": lambda v: Q(v["f"] * v["k"], "N") / (Q(v["f"], "N") / Q(v["s"], "cm")),
    "levers-seesaw": lambda v: Q(v["F"], "N") * Q(v["a"], "m") / Q(v["b"], "m"),
    "levers-crowbar": lambda v: Q(v["F"], "N") * Q(v["a"] * v["k"], "cm") / Q(v["a"], "cm"),
    "pressure-on-ground": lambda v: Q(v["F"], "N") / Q(v["A"], "cm**2"),
    "pressure-water-depth": lambda v: Q(1000, "kg/m**3") * G * Q(v["h"], "m"),
    "energy-work-pulling": lambda v: Q(v["F"], "N") * Q(v["s"], "m"),
    "energy-potential": lambda v: Q(v["m"], "kg") * G * Q(v["h"], "m"),
    "energy-kinetic": lambda v: 0.5 * Q(v["m"], "kg") * Q(v["v"], "m/s") ** 2,
    "energy-speed-factor": lambda v: (v["k"] * v["v"]) ** 2 / v["v"] ** 2,
    "power-stairs": lambda v: Q(v["W"], "J") / Q(v["t"], "s"),
    "power-efficiency": lambda v: Q(v["u"], "J") / Q(v["E"], "J"),
    "heat-water": lambda v: Q(4.18, "kJ/kg/delta_degC") * Q(v["m"], "kg") * (Q(v["B"], "degC") - Q(v["A"], "degC")),
    "heat-mixing": mixture,
    "ohm-resistance": lambda v: Q(v["U"], "V") / Q(v["I"], "A"),
    "ohm-current": lambda v: Q(v["U"], "V") / Q(v["R"], "ohm"),
    "ohm-voltage-milliamperes": lambda v: Q(v["R"], "ohm") * Q(v["I"], "mA"),
    "circuits-series": lambda v: Q(v["a"], "ohm") + Q(v["b"], "ohm"),
    "circuits-parallel": lambda v: 1 / (1 / Q(v["a"], "ohm") + 1 / Q(v["b"], "ohm")),
    "circuits-charge": lambda v: Q(v["I"], "A") * Q(v["t"], "minute"),
    "electric-power": lambda v: Q(v["U"], "V") * Q(v["I"], "A"),
    "electric-energy-kwh": lambda v: Q(v["P"], "W") * Q(v["t"], "hour"),
    "optics-reflection": lambda v: 90 - v["a"],
    "optics-image-size": lambda v: Q(v["G"], "cm") * (v["b"] / v["g"]),
    "optics-lens-equation": lambda v: 1 / (1 / Q(v["f"], "cm") - 1 / Q(v["g"], "cm")),
    "waves-thunder": lambda v: SOUND * Q(v["t"], "s"),
    "waves-wavelength": lambda v: SOUND / Q(v["f"], "hertz"),
    "waves-period": lambda v: 1 / (Q(v["t"], "s") / v["n"]),
    "speed-average": lambda v: Q(v["s"], "km") / Q(v["t"], "minute"),
    "speed-reaction-distance": lambda v: Q(v["v"], "km/hour") * Q(v["t"], "s"),
    "acceleration-time": lambda v: Q(v["v"], "m/s") / Q(v["a"], "m/s**2"),
    "acceleration-distance": lambda v: Q(v["a"], "m/s**2") * Q(v["t"], "s") ** 2 * 0.5,
    "density-volume": lambda v: Q(v["m"], "g") / Q(v["d"], "g/cm**3"),
    "force-mass-from-weight": lambda v: Q(v["F"], "N") / G,
    "force-acceleration": lambda v: Q(v["F"], "N") / Q(v["m"], "kg"),
    "springs-force": lambda v: Q(v["D"], "N/cm") * Q(v["s"], "cm"),
    "levers-distance": lambda v: Q(v["F"], "N") * Q(v["a"], "m") / Q(v["G"], "N"),
    "pressure-force": lambda v: Q(v["p"], "N/cm**2") * Q(v["A"], "cm**2"),
    "pressure-hydraulic": lambda v: Q(v["F"], "N") / Q(v["a"], "cm**2") * Q(v["a"] * v["k"], "cm**2"),
    "power-work": lambda v: Q(v["P"], "W") * Q(v["t"], "minute"),
    "energy-height": lambda v: Q(v["E"], "J") / (Q(v["m"], "kg") * G),
    "heat-mass": lambda v: v["Q"] / (4.18 * v["m"]),
    "circuits-parallel-current": lambda v: Q(v["U"], "V") / Q(v["a"], "ohm") + Q(v["U"], "V") / Q(v["b"], "ohm"),
    "circuits-divider": lambda v: Q(v["a"], "ohm") * (Q(v["U"], "V") / Q(v["a"] + v["b"], "ohm")),
    "electric-current-of-lamp": lambda v: Q(v["P"], "W") / Q(v["U"], "V"),
    "electric-cost": lambda v: Q(v["P"], "W").to("kW").magnitude * v["h"] * v["c"] / 100,
    "waves-speed": lambda v: Q(v["f"], "hertz") * Q(v["l"], "m"),
    "waves-echo": lambda v: SOUND * Q(v["t"], "s") / 2,
}  # fmt: skip

MATHEMATICS: Mapping[str, Way] = {
    "trigonometry-hypotenuse": lambda v: Q(v["a"] / math.cos(math.radians(90 - v["w"])), "cm"),
    "trigonometry-adjacent": lambda v: Q(v["c"] * math.sin(math.radians(90 - v["w"])), "cm"),
    "angles-triangle-third": lambda v: math.degrees(math.pi - math.radians(v["a"]) - math.radians(v["b"])),
    "circles-diameter-from-circumference": lambda v: Q(2 * math.sqrt((v["u"] / 2) ** 2 / math.pi**2), "cm"),
    "probability-not-red": lambda v: 1 - Fraction(int(v["r"]), int(v["r"] + v["b"] + v["g"])),
    "interest-rate": lambda v: next(p for p in range(1, 100) if math.isclose(v["K"] * p / 100, v["Z"])),
    "quadratic-equations-sum": lambda v: max(np.roots([1, -v["s"], v["m"]])),
    "integers-subtract-negative": lambda v: v["a"] + abs(v["b"]),
    "integers-order-of-operations": lambda v: v["a"] + (-v["c"]) * v["b"],
    "integers-multiply": lambda v: math.copysign(abs(v["a"]) * abs(v["b"]), 1 if v["a"] * v["b"] > 0 else -1),
    "integers-temperature": lambda v: len(range(int(v["a"]), int(v["b"]))),
    "divisibility-gcd": common_divisor,
    "divisibility-lcm": blink,
    "fractions-add": lambda v: Fraction(int(v["a"]), int(v["b"])) + Fraction(int(v["c"]), int(v["d"])),
    "fractions-multiply": lambda v: Fraction(int(v["a"]), int(v["b"])) * Fraction(int(v["c"]), int(v["d"])),
    "fractions-divide": lambda v: Fraction(int(v["a"]), int(v["b"])) / Fraction(int(v["c"]), int(v["d"])),
    "fractions-of-amount": lambda v: Fraction(int(v["a"]), int(v["b"])) * int(v["b"] * v["k"]),
    "fractions-compare": lambda v: Fraction(int(v["a"]), int(v["b"])),
    "decimals-multiply": lambda v: v["a"] * v["b"],
    "decimals-hours-to-minutes": lambda v: Q(v["h"], "hour").to("minute").magnitude,
    "decimals-square-metres": lambda v: Q(v["a"], "m**2").to("cm**2").magnitude,
    "decimals-rounding": lambda v: round(v["a"] + v["b"] / 10 + v["c"] / 100 + v["d"] / 1000, 1),
    "powers-product": lambda v: lambda x: x ** v["m"] * x ** v["n"],
    "powers-of-power": lambda v: lambda x: (x ** v["m"]) ** v["n"],
    "powers-scientific-notation": lambda v: v["m"] * 10 ** v["n"],
    "percentages-of": lambda v: Q(v["p"], "percent") * Q(v["G"], "kg"),
    "percentages-rate": lambda v: Q(v["W"] / v["G"], "").to("percent"),
    "percentages-base": lambda v: Q(v["W"], "m") / Q(v["p"], "percent"),
    "percentages-discount": lambda v: v["G"] - v["G"] * v["p"] / 100,
    "interest-months": lambda v: sum(v["K"] * v["p"] / 1200 for _ in range(int(v["m"]))),
    "interest-compound": account,
    "proportion-price": lambda v: v["p"] * v["n"] / v["n"] * v["m"],
    "proportion-inverse": lambda v: Q(v["t"], "hour") * v["n"] / v["m"],
    "proportion-map-scale": lambda v: Q(v["s"], "cm") * v["k"],
    "terms-collect": lambda v: lambda x: v["a"] * x + v["b"] + v["c"] * x + v["d"],
    "terms-expand": lambda v: lambda x: v["a"] * (v["b"] * x + v["c"]),
    "terms-binomial-square": lambda v: lambda x: (x + v["a"]) ** 2,
    "linear-equations-one-step": lambda v: solved((v["a"], v["a"] * v["x"]))[0],
    "linear-equations-both-sides": lambda v: solved((v["a"] - v["c"], v["d"] - v["b"]))[0],
    "linear-equations-system": lambda v: max(solved((1, 1, v["x"] + v["y"]), (1, -1, v["x"] - v["y"]))),
    "linear-functions-value": lambda v: polynomial(v["m"], v["b"])(v["x"]),
    "linear-functions-slope": lambda v: np.polyfit([v["u"], v["u"] + v["h"]], [v["v"], v["v"] + v["k"]], 1)[0],
    "linear-functions-equation": lambda v: polynomial(v["m"], v["b"]),
    "linear-functions-zero": lambda v: np.roots([v["m"], -v["m"] * v["x"]])[0],
    "quadratic-equations-larger-root": lambda v: max(np.roots([1, -(v["u"] + v["v"]), v["u"] * v["v"]]).real),
    "quadratic-equations-pure": lambda v: max(np.roots([v["a"], 0, -v["a"] * v["x"] ** 2]).real),
    "angles-triangle": lambda v: math.degrees(math.pi - math.radians(v["a"]) - math.radians(v["b"])),
    "angles-isosceles": lambda v: 90 - v["a"] / 2,
    "area-rectangle-side": lambda v: Q(v["a"] * v["b"], "cm**2") / Q(v["a"], "cm"),
    "area-triangle": lambda v: Q(abs(np.cross([v["g"], 0, 0], [1.7, v["h"], 0])[2]) / 2, "cm**2"),
    "area-trapezium": lambda v: Q(shoelace((0, 0), (v["a"], 0), (v["c"] + 1, v["h"]), (1, v["h"])), "cm**2"),
    "circles-circumference": lambda v: Q(math.tau * v["r"], "cm"),
    "circles-area": lambda v: Q(math.pi * v["d"] ** 2 / 4, "cm**2"),
    "solids-aquarium": lambda v: Q(v["a"], "cm") * Q(v["b"], "cm") * Q(v["c"], "cm"),
    "solids-cube-surface": lambda v: sum(Q(v["a"], "cm") * Q(v["a"], "cm") for _ in range(6)),
    "solids-cylinder": lambda v: math.pi * Q(v["r"], "cm") ** 2 * Q(v["h"], "cm"),
    "pythagoras-hypotenuse": lambda v: Q(math.hypot(v["p"], v["q"]), "cm"),
    "pythagoras-ladder": lambda v: Q(v["c"] * math.sin(math.acos(v["a"] / v["c"])), "m"),
    "trigonometry-height": lambda v: Q(v["s"], "m") * math.sin(math.radians(v["w"])) / math.cos(math.radians(v["w"])),
    "trigonometry-ramp": lambda v: math.degrees(math.atan2(v["h"], math.sqrt(v["c"] ** 2 - v["h"] ** 2))),
    "statistics-mean": lambda v: statistics.fmean([v["a"], v["b"], v["c"], v["d"]]),
    "statistics-median": lambda v: statistics.median(
        [v["m"] + v["v"], v["m"] - v["p"] - v["u"], v["m"] - v["p"], v["m"], v["m"] + v["q"]]
    ),
    "statistics-missing-value": lambda v: next(
        x for x in range(200) if math.isclose(statistics.fmean([v["a"], v["b"], x]), v["m"])
    ),
    "probability-urn": lambda v: Fraction(int(v["r"]), int(v["r"] + v["b"])),
    "probability-two-draws": two_reds,
    "probability-complement": lambda v: 1 - v["p"],
    "integers-brackets": lambda v: sum(v["b"] - v["c"] for _ in range(int(v["a"]))),
    "fractions-subtract": lambda v: Fraction(int(v["a"]), int(v["b"])) - Fraction(1, int(v["d"])),
    "decimals-divide": lambda v: Fraction(int(v["q"]), 1) / Fraction(str(v["d"])),
    "powers-value": lambda v: math.prod(v["b"] for _ in range(int(v["n"]))),
    "divisibility-remainder": lambda v: int(v["d"] * v["q"] + v["r"]) % int(v["d"]),
    "percentages-increase": lambda v: v["G"] * 1.0 + v["p"] * (v["G"] / 100),
    "interest-year": lambda v: sum(v["K"] * v["p"] / 1200 for _ in range(12)),
    "proportion-recipe": lambda v: Q(v["g"] * v["n"], "g") * v["m"] / v["n"],
    "terms-value": lambda v: polynomial(v["a"], v["b"])(v["x"]),
    "linear-equations-brackets": lambda v: solved((v["a"], v["a"] * (v["x"] + v["b"]) - v["a"] * v["b"]))[0],
    "quadratic-equations-product": lambda v: max(np.roots(np.poly([v["u"], v["w"]])).real),
    "angles-vertical": lambda v: 90 + (90 - v["a"]),
    "area-parallelogram": lambda v: Q(shoelace((0, 0), (v["a"], 0), (v["a"] + 2, v["h"]), (2, v["h"])), "cm**2"),
    "circles-radius": lambda v: Q(v["u"] / math.tau, "cm"),
    "solids-prism-height": lambda v: Q(v["a"] * v["b"] * v["c"], "cm**3") / (Q(v["a"], "cm") * Q(v["b"], "cm")),
    "pythagoras-diagonal": lambda v: Q(abs(complex(v["a"], v["b"])), "cm"),
    "statistics-range": lambda v: np.ptp([v["a"] + v["b"], v["a"], v["a"] + v["d"]]),
    "statistics-relative-frequency": lambda v: Q(v["k"] / v["n"], "").to("percent"),
    "probability-expected": lambda v: sum(Fraction(1, int(v["c"])) for _ in range(int(v["n"]))),
}  # fmt: skip


def shoelace(*corners: tuple[float, float]) -> float:
    """Area of a polygon from its corners."""
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    return abs(sum(x * q - p * y for (x, y), (p, q) in pairs)) / 2


# Names of the units as pint has them.
UNITS: Mapping[str, str] = {
    "": "", "%": "percent", "°": "", "°C": "", "km/h": "km/hour", "m/s": "m/s", "m/s²": "m/s**2", "km": "km",
    "s": "s", "h": "hour",
    "m": "m", "cm": "cm", "cm²": "cm**2", "cm³": "cm**3", "L": "liter", "g/cm³": "g/cm**3", "g": "g", "kg": "kg",
    "N": "N", "N/cm": "N/cm", "N/cm²": "N/cm**2", "kPa": "kPa", "J": "J", "kJ": "kJ", "W": "W", "kWh": "kWh",
    "kg/m³": "kg/m**3", "K": "kelvin", "Ω": "ohm", "A": "A", "V": "V", "C": "coulomb", "Hz": "hertz",
}  # fmt: skip


def in_unit(result: Any, unit: str) -> float:
    """Return the number of a result in the unit asked for."""
    if not hasattr(result, "magnitude"):
        return float(result)
    if unit == "Hz":
        # pint keeps angles apart: a frequency is 1/s.
        return float(result.to("1/s").magnitude)
    if unit == "m" and "hertz" in str(result.units):
        return float((result * Q(1, "hertz") / Q(1, "1/s")).to("m").magnitude)
    return float(result.to(UNITS[unit]).magnitude)


FIXED: Mapping[str, Any] = {
    "speed-about-average-value": Q(60, "km")
    / (Q(30, "km") / Q(10, "km/hour") + Q(30, "km") / Q(30, "km/hour")),
    "speed-about-convert": Q(10, "meter/second"),
    "acceleration-about-after-fall": Q(10, "meter/second**2") * Q(3, "second"),
    "density-about-convert": Q(2.7, "gram/centimeter**3"),
    "springs-about-table": Q(6, "newton") / (Q(2, "newton") / Q(4, "centimeter")),
    "levers-about-balance": Q(6, "newton") * Q(2, "meter") / Q(4, "meter"),
    "pressure-about-nail": Q(4, "newton") / Q(0.02, "centimeter**2"),
    "power-about-kwh-joule": Q(1, "kilowatt_hour"),
    "heat-about-kelvin": Q(20, "degC").to("kelvin"),
    "electric-power-about-kettle-current": Q(2300, "watt") / Q(230, "volt"),
    "electric-power-about-standby": Q(5, "watt") * Q(365, "day"),
    "integers-about-frost": sum([-3, *[-1] * 4]),
    "integers-about-difference": next(x for x in range(-50, 50) if x + -8 == 5),
    "divisibility-about-even-prime": next(
        p for p in range(2, 100, 2) if not any(p % d == 0 for d in range(2, p))
    ),
    "divisibility-about-divisors": sum(12 % d == 0 for d in range(1, 13)),
    "fractions-about-half-of-half": Fraction(1, 2) - Fraction(1, 4),
    "decimals-about-quarter": Fraction("0.25") if 4 * Fraction("0.25") == 1 else None,
    "decimals-about-tenth-times": Fraction("0.2") * Fraction("0.3"),
    "powers-about-two-ten": len(range(1 << 10)),
    "powers-about-negative": Fraction(10) ** -2,
    "percentages-about-fraction": Q(Fraction(3, 8), "dimensionless"),
    "percentages-about-whole": next(x for x in range(1, 1000) if Fraction(15, 100) * x == 30),
    "interest-about-half-year": account({"K": 1000, "p": 3, "n": 1}) / 2 - 500,
    "interest-about-two-years": account({"K": 1000, "p": 10, "n": 2}),
    "proportion-about-workers": Fraction(2 * 6, 4),
    "proportion-about-map": Q(5, "centimeter") * 50000,
    "terms-about-value": np.polyval([3, -2], 3),
    "linear-equations-about-think": solved((2, 16))[0],
    "linear-equations-about-both-sides": solved((3, 12))[0],
    "linear-functions-about-zero": np.roots([2, -6])[0],
    "quadratic-equations-about-positive": max(np.roots([1, 0, -49])),
    "angles-about-quadrilateral": (4 - 2) * 180,
    "angles-about-clock": 3 * 360 / 12,
    "area-about-unit": Q(1, "meter**2"),
    "area-about-triangle": abs(float(np.linalg.det([[6, 0], [2, 4]]))) / 2,
    "circles-about-wheel": Q(math.pi * 70, "centimeter"),
    "solids-about-edges": sum(
        sum(a != b for a, b in zip(one, two, strict=True)) == 1
        for one in np.ndindex(2, 2, 2)
        for two in np.ndindex(2, 2, 2)
        if one < two
    ),
    "solids-about-litre": Q(1, "liter"),
    "pythagoras-about-ladder": math.sqrt((5 - 3) * (5 + 3)),
    "trigonometry-about-thirty": math.sin(math.radians(30)),
    "trigonometry-about-slope": math.degrees(math.atan(1)),
    "statistics-about-even-median": statistics.median([2, 4, 6, 9]),
    "probability-about-two-dice": Fraction(
        sum(throw == (5, 5) for throw in np.ndindex(6, 6)), len(list(np.ndindex(6, 6)))
    ),
    "probability-about-opposite": Fraction(7, 10),
}
"""The numbers of the questions that are the same for everybody."""
