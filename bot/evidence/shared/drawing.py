"""Drawing for phones: a sheet measured in the pixels of a screen 390 wide, without any global state.

Colours are those of Okabe & Ito ("Color Universal Design", 2008), chosen to differ for every kind of colour
vision; each is paired with a shape or a hatch, so that the picture also reads in grey. Text of people is never
read as mathematics (a name may hold a dollar sign), and a character that no font has becomes a mark instead of a
warning.
"""

from __future__ import annotations

from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from PIL import Image

from bot.chat.port import Attachment
from bot.evidence.shared.figures import IntervalEstimate

if TYPE_CHECKING:
    from collections.abc import Sequence

PHONE = 390
"""Width of a common phone's screen. [CSS px]"""

BLACK, GREY, PALE = "#000000", "#595959", "#D9D9D9"
BLUE, ORANGE, GREEN, VERMILLION, SKY, PURPLE, YELLOW = (
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#D55E00",
    "#56B4E9",
    "#CC79A7",
    "#F0E442",
)
"""Okabe & Ito 2008; PALE and GREY are neutral."""

ALT_LIMIT = 1000
"""Longest alternative text that is stored with a message; longer ones end in an ellipsis."""

_FALLBACKS = (
    "Noto Sans",
    "Noto Sans CJK SC",
    "Noto Sans CJK JP",
    "Noto Sans Arabic",
    "Noto Sans Devanagari",
    "WenQuanYi Zen Hei",
)
_REPLACEMENT = "\ufffd"

Side = Literal["left", "center", "right"]
Shape = Literal[
    "disc", "ring", "square", "open square", "diamond", "open diamond", "triangle", "cross", "bar"
]
_MARKERS: dict[str, tuple[str, bool]] = {
    "disc": ("o", True),
    "ring": ("o", False),
    "square": ("s", True),
    "open square": ("s", False),
    "diamond": ("D", True),
    "open diamond": ("D", False),
    "triangle": ("^", True),
    "cross": ("x", True),
    "bar": ("|", True),
}


@cache
def families() -> tuple[str, ...]:
    """Return the fonts to look for a character in, those that are installed."""
    installed = {entry.name for entry in font_manager.fontManager.ttflist}
    return ("DejaVu Sans", *(name for name in _FALLBACKS if name in installed))


@cache
def _known_characters() -> frozenset[int]:
    fonts = (font_manager.get_font(font_manager.findfont(FontProperties(family=name))) for name in families())
    return frozenset(code for font in fonts for code in font.get_charmap())


def printable(text: str) -> str:
    r"""Return a text on one line with a mark in place of every character that no font has.

    Examples
    --------
    >>> printable("Zoë\n🦊 1") == "Zoë \ufffd 1"
    True
    """
    known = _known_characters()
    return "".join(char if ord(char) in known else _REPLACEMENT for char in " ".join(text.split()))


class DrawnPage:
    """A white page in pixels of a phone's screen, y downward from the top.

    Parameters
    ----------
    height : float
        [px]
    width : float
        [px]
    scale : float
        Real pixels per pixel of the screen; 2 keeps text sharp.
    """

    def __init__(self, height: float, width: float = PHONE, scale: float = 2.0) -> None:
        self.width, self.height = float(width), float(height)
        self.figure = Figure(figsize=(width / 100.0, height / 100.0), dpi=100.0 * scale, facecolor="white")
        canvas: Any = FigureCanvasAgg(self.figure)
        self.canvas = canvas
        self._renderer = self.canvas.get_renderer()
        self._layer = 0.0
        self._widths: dict[tuple[str, float, bool], float] = {}

    # -- measuring

    def text_width(self, text: str, size: float = 13.0, *, strong: bool = False) -> float:
        """Return how wide a text comes out. [px]."""
        key = text, size, strong
        if key not in self._widths:
            pixels = self._renderer.get_text_width_height_descent(text, _font(size, strong), ismath=False)[0]
            self._widths[key] = float(pixels) / self.figure.dpi * 100.0
        return self._widths[key]

    def cut(self, text: str, room: float, size: float = 13.0, *, strong: bool = False) -> str:
        """Return the text, shortened with an ellipsis to fit the room. [px]."""
        whole = printable(text)
        if self.text_width(whole, size, strong=strong) <= room:
            return whole
        low, high = 0, len(whole)
        while low < high:
            middle = (low + high + 1) // 2
            fits = self.text_width(whole[:middle].rstrip() + "…", size, strong=strong) <= room
            low, high = (middle, high) if fits else (low, middle - 1)
        return whole[:low].rstrip() + "…"

    def wrap(
        self, text: str, room: float, size: float = 13.0, *, strong: bool = False, lines: int = 99
    ) -> list[str]:
        """Break a text into lines that fit the room; the last one is cut when there are too many."""
        space = self.text_width("x x", size, strong=strong) - self.text_width("xx", size, strong=strong)
        done: list[str] = []
        current, used = "", 0.0
        words = printable(text).split(" ")
        for place, word in enumerate(words):
            # Word by word, since measuring every growing line is slow; a pixel is kept in hand for the difference.
            width = self.text_width(word, size, strong=strong) if word else 0.0
            if current and used + space + width > room - 1.0:
                if len(done) == lines - 1:
                    rest = " ".join([current, *words[place:]])
                    return [*done, self.cut(rest, room, size, strong=strong)]
                done.append(self.cut(current, room, size, strong=strong))
                current, used = word, width
            else:
                used += width + (space if current else 0.0)
                current = f"{current} {word}".strip()
        return [*done, self.cut(current, room, size, strong=strong)]

    # -- drawing

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 13.0,
        *,
        strong: bool = False,
        colour: str = BLACK,
        side: Side = "left",
        room: float | None = None,
    ) -> float:
        """Write a text with its baseline at y; return its width. [px]."""
        shown = printable(text) if room is None else self.cut(text, room, size, strong=strong)
        self.figure.text(
            x / self.width,
            1.0 - y / self.height,
            shown,
            fontproperties=_font(size, strong),
            color=colour,
            ha=side,
            va="baseline",
            parse_math=False,
            zorder=self._next_layer(),
        )
        return self.text_width(shown, size, strong=strong)

    def paragraph(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        room: float,
        *,
        colour: str = BLACK,
        strong: bool = False,
    ) -> float:
        """Write wrapped lines from the baseline y on; return the baseline after the last. [px]."""
        for line in self.wrap(text, room, size, strong=strong):
            self.text(x, y, line, size, colour=colour, strong=strong)
            y += 1.35 * size
        return y

    def box(
        self, x: float, y: float, width: float, height: float, colour: str, hatch: str = "", edge: str = ""
    ) -> None:
        """Draw a rectangle from its upper left corner."""
        patch = Rectangle(
            (x / self.width, 1.0 - (y + height) / self.height),
            width / self.width,
            height / self.height,
            facecolor=colour,
            edgecolor=edge or BLACK,
            linewidth=0.6 if hatch or edge else 0.0,
            hatch=hatch,
            transform=self.figure.transFigure,
        )
        self._add(patch)

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        colour: str = GREY,
        width: float = 1.0,
        dashes: Literal["-", "--", ":"] = "-",
    ) -> None:
        """Draw a straight line."""
        xs, ys = [x1 / self.width, x2 / self.width], [1.0 - y1 / self.height, 1.0 - y2 / self.height]
        self._add(Line2D(xs, ys, color=colour, linewidth=width * 0.72, linestyle=dashes))

    def mark(self, x: float, y: float, shape: Shape, colour: str = BLACK, size: float = 9.0) -> None:
        """Draw a marker around its centre."""
        marker, filled = _MARKERS[shape]
        self._add(
            Line2D(
                [x / self.width],
                [1.0 - y / self.height],
                marker=marker,
                markersize=size * 0.72,
                markerfacecolor=colour if filled else "white",
                markeredgecolor=colour,
                markeredgewidth=1.3,
                linestyle="",
            )
        )

    def _add(self, artist: Any) -> None:
        artist.set_transform(self.figure.transFigure)
        artist.set_zorder(self._next_layer())
        self.figure.add_artist(artist)

    def _next_layer(self) -> float:
        # What is drawn later lies above.
        self._layer += 0.001
        return self._layer

    # -- a scale from 0 to 100 %

    def scale(
        self, x: float, width: float, top: float, bottom: float, size: float = 11.0, *, labels: bool = True
    ) -> Scale:
        """Draw a scale of percent with a line at half; return it for drawing estimates on."""
        for value in (0, 25, 50, 75, 100):
            at = x + width * value / 100.0
            half = value == 50
            self.line(
                at, top, at, bottom, BLACK if half else PALE, 1.2 if half else 1.0, "--" if half else "-"
            )
        for value in (0, 50, 100) if labels else ():
            label = f"{value}\u00a0%" if value else "0"
            side: Side = "right" if value == 100 else "center"
            self.text(
                x + width * value / 100.0 + 6 * (value == 100),
                bottom + size + 2,
                label,
                size,
                colour=GREY,
                side=side,
            )
        return Scale(self, x, width)

    def png(self) -> bytes:
        """Return the picture, reduced to the few colours it has."""
        self.canvas.draw()
        image = Image.frombuffer(
            "RGBA", self.canvas.get_width_height(), self.canvas.buffer_rgba(), "raw", "RGBA", 0, 1
        )
        return small_png(image)


class Scale:
    """Percent along a line of a sheet."""

    def __init__(self, sheet: DrawnPage, x: float, width: float) -> None:
        self.sheet, self.x, self.width = sheet, x, width

    def at(self, value: float) -> float:
        """Return where a value of 0..1 lies. [px]."""
        return self.x + self.width * min(1.0, max(0.0, value))

    def estimate(
        self, y: float, estimate: IntervalEstimate, shape: Shape, colour: str, thick: float = 3.0
    ) -> None:
        """Draw an estimate: its interval as a bar with a marker on it."""
        self.sheet.line(self.at(estimate.low), y, self.at(estimate.high), y, colour, thick)
        self.sheet.mark(self.at(estimate.mean), y, shape, colour)


def small_png(image: Image.Image) -> bytes:
    """Return a PNG of at most 64 colours: a tenth of the size at no visible loss."""
    flat = Image.new("RGB", image.size, "white")
    flat.paste(image, mask=image.getchannel("A"))
    buffer = BytesIO()
    # Median cut and the strongest compression cost ten times the time and save nothing here.
    flat.quantize(64, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
        buffer, "PNG", compress_level=6
    )
    return buffer.getvalue()


def figure_png(figure: Figure) -> bytes:
    """Return a figure with axes as a small PNG."""
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    image = Image.frombuffer("RGBA", canvas.get_width_height(), canvas.buffer_rgba(), "raw", "RGBA", 0, 1)
    return small_png(image)


def picture(name: str, data: bytes, alt: str) -> Attachment:
    """Return a picture to send, with the text that says the same."""
    return Attachment(name, "image/png", data, alt if len(alt) <= ALT_LIMIT else alt[: ALT_LIMIT - 1] + "…")


def grey_phone(data: bytes, width: int = PHONE) -> bytes:
    """Return a picture as a phone with colours off shows it: for looking at, and for tests."""
    with Image.open(BytesIO(data)) as image:
        height = round(image.height * width / image.width)
        shrunk = image.convert("L").resize((width, height), Image.Resampling.LANCZOS)
    buffer = BytesIO()
    shrunk.save(buffer, "PNG")
    return buffer.getvalue()


@cache
def _font(size: float, strong: bool) -> FontProperties:
    # 100 pixels of the screen are one inch of the figure: 1 px = 0.72 pt.
    return FontProperties(family=list(families()), size=size * 0.72, weight="bold" if strong else "normal")


def axes_font(size: float, *, strong: bool = False) -> dict[str, Any]:
    """Return text settings for figures with axes. `size` in pixels of the screen."""
    return {"fontproperties": _font(size, strong), "parse_math": False}


def names_listed(names: Sequence[str]) -> str:
    """Join names for an alternative text."""
    return ", ".join(names)
