"""The sheet that pictures are drawn on, and the simulation's picture."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from math import nan
from typing import Any

import numpy as np
import pytest
from PIL import Image
from scipy import stats

from bot.cli.simulate import MEASURES, _compared
from bot.evidence.illustration.simulation_picture import (
    SimulationRow,
    compared,
    simulation_picture,
    simulation_text,
)
from bot.evidence.shared.drawing import ALT_LIMIT, PHONE, DrawnPage, grey_phone, picture, printable
from bot.evidence.shared.figures import IntervalEstimate, student_quantile
from bot.words import Words
from scheduler.simulation.evaluation import Row


def test_a_text_that_fits_is_not_cut() -> None:
    assert DrawnPage(100).cut("Density", 200) == "Density"


def test_a_text_that_does_not_fit_ends_in_an_ellipsis_and_fits() -> None:
    sheet = DrawnPage(100)
    cut = sheet.cut("A very long topic about pressure in liquids and gases", 120)
    assert cut.endswith("…")
    assert sheet.text_width(cut) <= 120


def test_wrapped_lines_fit_and_lose_no_word() -> None:
    sheet = DrawnPage(100)
    text = "How large is the pressure ten metres below the surface of a lake?"
    lines = sheet.wrap(text, 150)
    assert " ".join(lines) == text
    assert all(sheet.text_width(line) <= 150 for line in lines)


def test_a_word_wider_than_the_line_is_cut_and_not_lost_in_a_loop() -> None:
    assert DrawnPage(100).wrap("x" * 400, 100)[0].endswith("…")


def test_too_many_lines_end_in_an_ellipsis() -> None:
    lines = DrawnPage(100).wrap("one two three four five six seven", 40, lines=2)
    assert len(lines) == 2
    assert lines[1].endswith("…")


@pytest.mark.parametrize(
    "name", ["$x^2$", "a_b^c", "\\alpha", "50% $5", "$\\frac{1}{0", "Zoë 🦊", "日本", "عربى", "\x00\x07"]
)
def test_no_name_is_read_as_mathematics_or_warned_about(name: str) -> None:
    sheet = DrawnPage(40)
    sheet.text(5, 20, name)
    assert sheet.png().startswith(b"\x89PNG")


def test_characters_that_no_font_has_are_marked() -> None:
    assert printable("Zoë") == "Zoë"
    assert printable("a\x00b") == "a\ufffdb"
    assert printable("a\n b\t c") == "a b c"


def test_what_is_drawn_later_lies_above() -> None:
    sheet = DrawnPage(20, 20, scale=1)
    sheet.line(0, 10, 20, 10, "#000000", 10)
    sheet.box(0, 0, 20, 20, "#FFFFFF")
    with Image.open(BytesIO(sheet.png())) as image:
        tones = image.convert("L").histogram()
    assert sum(tones[:250]) == 0


def test_an_estimate_is_drawn_where_it_lies() -> None:
    sheet = DrawnPage(20, 200, scale=1)
    scale = sheet.scale(0, 200, 0, 0, labels=False)
    scale.estimate(10, IntervalEstimate(0.75, 0.7, 0.8), "square", "#000000")
    with Image.open(BytesIO(sheet.png())) as image:
        row = [image.convert("L").getpixel((x, 10)) for x in range(200)]
    dark = [x for x, tone in enumerate(row) if isinstance(tone, int) and tone < 100]
    assert 138 <= min(dark) <= 142
    assert 158 <= max(dark) <= 162


def test_a_grey_phone_shows_the_picture_390_wide() -> None:
    with Image.open(BytesIO(grey_phone(DrawnPage(50).png()))) as image:
        assert (image.size, image.mode) == ((PHONE, 50), "L")


def test_an_alternative_text_is_kept_to_what_is_stored() -> None:
    made = picture("x.png", b"", "a" * 5000)
    assert len(made.alt) == ALT_LIMIT
    assert made.alt.endswith("…")


# ---------------------------------------------------------------- simulation

RUNS = {
    policy: [level + lift for level in (0.42, 0.55, 0.61, 0.74)]
    for policy, lift in (("none", -0.3), ("fixed", -0.05), ("personal", 0.0), ("oracle", 0.03))
}
ROWS = [
    row
    for measure in ("Recall at quizzes", "Mean over the term")
    for row in compared(
        measure,
        {
            name: [x + 0.001 * i for i, x in enumerate(own)] if name != "personal" else own
            for name, own in RUNS.items()
        },
    )
]


def test_the_simulation_says_means_and_paired_gains(english: Words) -> None:
    text = simulation_text(ROWS, english).plain.replace("\u00a0", " ")
    assert "Recall at quizzes: none 28.2 % (−29.8, from −30.1 to −29.6), fixed 53." in text
    assert "personal 58.0 %, oracle 61.2 % (+3.2, from" in text


def test_f29_a_difference_that_every_class_shows_is_not_called_chance() -> None:
    """The means lie within two standard errors of each other, yet every class gains: checked against scipy."""
    rng = np.random.default_rng(1)
    level = rng.uniform(0.3, 0.8, 12)
    ours, fixed = level.tolist(), (level - 0.05 + rng.normal(0.0, 0.01, 12)).tolist()
    apart = abs(np.mean(ours) - np.mean(fixed))
    assert apart < 2.0 * np.std(ours, ddof=1) / 12**0.5  # what the picture drew before
    personal, other = compared("Recall", {"personal": ours, "fixed": fixed})
    assert personal.gain is None
    assert other.gain is not None
    expected = stats.ttest_rel(fixed, ours).confidence_interval(0.95)
    assert [other.gain.low, other.gain.high] == pytest.approx([expected.low, expected.high])
    assert other.gain.high < 0.0


def test_f29_the_pairs_are_classes_not_places_in_the_list() -> None:
    row = Row("power", 1, "personal", 2, (), 0.5, nan, 0.4, 0.0, 0.0, 0.0, 0.0, 0, 0)
    rows = [
        replace(row, policy=policy, seed=seed, tests=0.1 * seed + lift)
        for policy, lift, seeds in (("personal", 0.0, (1, 2, 3)), ("fixed", -0.02, (3, 1, 2)))
        for seed in seeds
    ]
    found = {(one.measure, one.policy): one for one in _compared(rows)}
    gain = found[MEASURES["tests"], "fixed"].gain
    assert gain is not None
    assert [gain.low, gain.high] == pytest.approx([-0.02, -0.02])
    assert (MEASURES["below_half"], "fixed") not in found  # there was no quiz


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 10, 13, 29, 30, 120])
def test_f29_students_quantile_is_that_of_scipy(freedom: int) -> None:
    for probability in (0.6, 0.9, 0.975, 0.995):
        assert student_quantile(probability, freedom) == pytest.approx(
            stats.t.ppf(probability, freedom), rel=1e-9
        )


def test_f29_no_axis_goes_beyond_what_shares_can_be(monkeypatch: pytest.MonkeyPatch, english: Words) -> None:
    said: list[str] = []
    real = DrawnPage.text

    def text(self: DrawnPage, x: float, y: float, text: str, size: float = 13.0, **more: Any) -> float:
        said.append(text)
        return real(self, x, y, text, size, **more)

    monkeypatch.setattr(DrawnPage, "text", text)
    rows = compared("Recall", {"personal": [0.99, 0.01, 1.0], "none": [0.0, 0.9, 0.02]})
    simulation_picture(
        [*rows, *compared("Other", {"personal": [0.99, 0.995], "none": [0.97, 0.98]})], english
    )
    figures = [float(one.replace("−", "-")) for one in said if one[:1] in "+−" and one[1:2].isdigit()]
    shares = [float(one[:-2]) for one in said if one.endswith("\u00a0%")]
    assert figures
    assert max(map(abs, figures)) <= 100.0
    assert all(0.0 <= one <= 100.0 for one in shares)


def test_the_simulation_picture_grows_with_its_measures(english: Words) -> None:
    heights = []
    for rows in (ROWS[:4], ROWS):
        with Image.open(BytesIO(simulation_picture(rows, english).data)) as image:
            assert image.width == 780
            heights.append(image.height)
    assert heights[0] < heights[1]


def test_a_measure_that_is_no_share_and_one_without_spread_can_be_drawn(english: Words) -> None:
    rows = [SimulationRow("personal", "Log loss", 0.512, percent=False)]
    assert "0.512" in simulation_text(rows, english).plain
    assert simulation_picture(rows, english).is_picture


def test_a_simulation_without_results_is_refused(english: Words) -> None:
    with pytest.raises(ValueError, match="no result"):
        simulation_picture([], english)
