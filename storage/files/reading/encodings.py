"""The encoding of a text file: certain, or asked about with an example word ("Kräfte", "KrŠfte").

A byte order mark decides; without one, zero bytes in every second place mean UTF-16; then UTF-8, strictly. What is
none of these was written by an older program in a code page of one byte a character, and nothing in the file says
which. The code pages of western Europe are tried, and a reading is *natural* if every character beyond ASCII stands
where people write it: no capital inside a word, no sign between letters, all accents from one language. A single
natural reading is taken. Where there are two or none the teacher is asked, with the readings that
``charset_normalizer`` holds possible besides; statistics alone never decide, because on short files they name exotic
code pages.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from itertools import islice

import charset_normalizer

from storage.files.problem import PossibleReading, Problem, excerpt, problem
from storage.files.reading.sheet import FileRefused

TWICE = "+"
"""Between two code pages: text that was encoded as UTF-8, misread in the second one and encoded once more."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16: its mark begins with the same two bytes
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_WESTERN = ("cp1252", "mac_roman", "cp850")
_SAMPLE_BYTES = 20_000
_FURTHER = ("cp1250", "cp1251", "cp1253", "cp1254", "cp1257")
_MOST_OPTIONS = 5

# Letters of the languages that are read here, each with those of names and loan words common in it (CLDR, exemplar
# characters, main and auxiliary).
_LETTERS = {
    "de": "äöüßàáâçèéêëíïñóôú",
    "fr": "àâæçèéêëîïôœùûüöäñ",
    "es": "áéíóúñüçºª",
    "it": "àèéìíîòóùúçöüä",
    "nl": "áâäçèéêëíïóôöúûüñ",
}
_SHORT_WORDS = set(
    re.findall(
        r"\w+",
        "à è é ê ô y là où né dû ça çà dé fé él tú mí sí sé té ré öl üb üs hé zé jó dà dì lì sì",
    )
)
_WORD = re.compile(r"[^\W\d_²³¹½¼¾]+")
_OPENING, _CLOSING = "„‚«¿¡", "»"
_RAISED = "°²³¹"
_FRACTIONS = "½¼¾"
_MARKS_OF_TEXT = "“”—±×÷€£§%•©"
_RELATIONS = "≤≥≠≈∞π√Ω"
_ENGLISH_TAIL = re.compile(r"í(?:s|t|re|ll|d|ve|m)\b")


def decode(data: bytes, name: str, chosen: str | None = None) -> str:
    """Turn the bytes of a text file into text.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for the message only.
    chosen : str, optional
        The encoding that the teacher chose, as in the options of an earlier question.

    Returns
    -------
    str
        The text without byte order mark.

    Raises
    ------
    FileRefused
        If the bytes are no text in any encoding, hold zero bytes, or are text in several (then the problem is a
        question, with the readings as options).

    Examples
    --------
    >>> decode("Kräfte und Stöße".encode("mac_roman"), "plan.csv")
    'Kräfte und Stöße'
    >>> try:
    ...     decode("Kräfte".encode("mac_roman"), "plan.csv")
    ... except FileRefused as refused:
    ...     [option.label for option in refused.problem.options]
    ['Kräfte', 'Krèfte', 'KrŠfte']
    """
    if chosen is not None and (text := _read_as(data, chosen)) is not None:
        return _without_zero(text, name)
    encoding = next((codec for mark, codec in _MARKS if data.startswith(mark)), None) or _unmarked(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as fault:
        if encoding != "utf-8":
            raise FileRefused(problem("file_encoding", name=name, offset=fault.start)) from None
        return _older(data, name, fault.start)
    _ask_if_twice(text, name)
    return _without_zero(text, name)


def _without_zero(text: str, name: str) -> str:
    if (zero := text.find("\0")) >= 0:
        raise FileRefused(problem("file_nul", name=name, offset=zero))
    return text


def _unmarked(data: bytes) -> str:
    """Tell UTF-16 without a mark from UTF-8: Latin text then has a zero in every second byte."""
    sample = data[:4096]
    even, odd, half = sample[::2].count(0), sample[1::2].count(0), max(len(sample) // 2, 1)
    if len(data) % 2 == 0 and odd > 0.4 * half and even < 0.05 * half:
        return "utf-16-le"
    if len(data) % 2 == 0 and even > 0.4 * half and odd < 0.05 * half:
        return "utf-16-be"
    return "utf-8"


def _read_as(data: bytes, encoding: str) -> str | None:
    """Decode in an encoding, or in two after each other; None if the bytes have no meaning in it."""
    first, _, second = encoding.partition(TWICE)
    try:
        text = data.decode(first)
        return text.encode(second).decode("utf-8") if second else text
    except (UnicodeError, LookupError):
        return None


# ---------------------------------------------------------------- older code pages


def _older(data: bytes, name: str, offset: int) -> str:
    """Decode text of one byte a character: the only natural reading, or a question."""
    if (zero := data.find(0)) >= 0:
        raise FileRefused(problem("file_nul", name=name, offset=zero))
    sample = _telling(data)
    natural = {
        encoding: text
        for encoding in _WESTERN
        if (text := _read_as(sample, encoding)) is not None and is_natural(text)
    }
    texts = dict.fromkeys(natural.values())
    found = _read_as(data, next(iter(natural))) if len(texts) == 1 else None
    if found is not None:
        return found
    tried = (*natural, "cp1252") if natural else (*_likely(sample), *_WESTERN)
    possible = [encoding for encoding in tried if _usable(data, encoding)]
    if not possible:
        raise FileRefused(problem("file_encoding", name=name, offset=offset))
    raise FileRefused(_question(data, name, possible))


def _telling(data: bytes) -> bytes:
    """Take the lines that hold something beyond ASCII, as many as tell enough."""
    lines = [line for line in data.splitlines(keepends=True) if not line.isascii()]
    return b"".join(lines)[:_SAMPLE_BYTES]


def _likely(sample: bytes) -> Iterator[str]:
    """Give the two likeliest code pages of other regions that the library holds possible."""
    found = (match.encoding for match in charset_normalizer.from_bytes(sample))
    yield from islice((encoding for encoding in found if encoding in _FURTHER), 2)


def _usable(data: bytes, encoding: str) -> bool:
    text = _read_as(data, encoding)
    return text is not None and all(char.isprintable() or char in "\r\n\t\u00a0" for char in set(text))


def _question(data: bytes, name: str, encodings: list[str]) -> Problem:
    """Ask for the encoding, showing the same word in each reading."""
    readings: dict[str, str] = {}
    for encoding in encodings:
        readings.setdefault(_read_as(data, encoding) or "", encoding)
    shown = dict(islice(readings.items(), _MOST_OPTIONS))
    examples = _examples(list(shown))
    options = tuple(
        PossibleReading("encoding", encoding, example)
        for encoding, example in zip(shown.values(), examples, strict=True)
    )
    return _asked(name, options)


def _asked(name: str, options: tuple[PossibleReading, ...]) -> Problem:
    ways = " / ".join(f'"{option.label}"' for option in options)
    return Problem(
        "encoding_unclear",
        fields=(("name", excerpt(name, 200)), ("ways", ways)),
        options=options,
    )


def _examples(texts: list[str]) -> list[str]:
    """Give a word that differs in all readings, or else in as many as possible."""
    rows = [re.split(r"[\s;,|]+", text[: 4 * _SAMPLE_BYTES]) for text in texts]
    width = min(len(row) for row in rows)
    candidates = [
        [row[place] for row in rows]
        for place in range(width)
        if any(not row[place].isascii() for row in rows)
    ]
    if not candidates:
        return [excerpt(next((word for word in row if not word.isascii()), ""), 24) for row in rows]
    best = max(candidates, key=lambda words: (len(set(words)), min(max(map(len, words)), 12)))
    return [excerpt(word, 24) for word in best]


def _ask_if_twice(text: str, name: str) -> None:
    """Ask about a text that looks like UTF-8 misread once before: "KrÃ¤fte"."""
    if text.isascii():
        return
    for codec in ("cp1252", "mac_roman"):
        mended = _mended(text, codec)
        if mended is not None and mended != text and is_natural(mended) and not is_natural(text):
            readings = {f"utf-8{TWICE}{codec}": mended, "utf-8": text}
            examples = _examples(list(readings.values()))
            options = tuple(
                PossibleReading("encoding", encoding, example)
                for encoding, example in zip(readings, examples, strict=True)
            )
            raise FileRefused(_asked(name, options))


def _mended(text: str, codec: str) -> str | None:
    try:
        return text.encode(codec).decode("utf-8")
    except UnicodeError:
        return None


# ---------------------------------------------------------------- what people write


def is_natural(text: str) -> bool:
    """Whether every character beyond ASCII stands where people of western Europe write it.

    Examples
    --------
    >>> is_natural("Kräfte, 30°, Hooke’s law, ½mv²"), is_natural("KrŠfte"), is_natural("Kr„fte"), is_natural("30∞")
    (True, False, False, False)
    """
    words = {word for word in _WORD.findall(text) if not word.isascii()}
    letters = {char for word in words for char in word.lower() if not char.isascii()} - {"µ", "μ", "π", "ω"}
    if not any(letters <= set(known) for known in _LETTERS.values()):
        return False
    signs = (place for place, char in enumerate(text) if ord(char) > 127 and not _is_letter(char))
    return (
        all(_is_word(word) for word in words)
        and all(_stands_well(text, place) for place in signs)
        and (_letters_stand_free(text))
    )


def _is_letter(char: str) -> bool:
    return char.isalpha() and char not in "µμπΩºª"


def _is_word(word: str) -> bool:
    """Whether a word is one: capitals only in front or all over, no odd short words, no "Hookeís"."""
    if re.fullmatch(r"[A-Za-z]*[µμπΩºª][A-Za-z]*", word):
        return True
    if len(word) <= 2 and word.casefold() not in _SHORT_WORDS:
        return False
    if _ENGLISH_TAIL.search(word) and word.casefold() not in ("país", "raís", "maís"):
        return False
    inner = [char for char in word[1:] if not char.isascii()]
    if word.upper() == word:
        return True
    odd = re.search(r"[^\W\d_][A-Z]", word) and any(char.islower() and not char.isascii() for char in word)
    return not any(char.isupper() for char in inner) and not odd


def _letters_stand_free(text: str) -> bool:
    """Whether no accented letter touches a digit: 30í was 30°."""
    return re.search(r"\d[à-öø-ÿÀ-ÖØ-Þ]|[à-öø-ÿÀ-ÖØ-Þ]\d", text) is None


def _stands_well(text: str, place: int) -> bool:
    """Whether a sign beyond ASCII stands as people write it."""
    char = text[place]
    before = text[place - 1] if place else " "
    after = text[place + 1] if place + 1 < len(text) else " "
    if char in "’‘–\u00a0":
        return True
    if char == "·":
        return (before.isalnum() and after.isalnum()) or (before.isspace() and after.isspace())
    if char in "…‰™®":
        return not after.isalpha()
    if char in "€£§":
        return not before.isalpha()
    if char in _RAISED:
        return before.isalnum() or before in ")] °" + _RAISED
    if char in _FRACTIONS:
        return not before.isalpha()
    if char in "µμ":
        return not before.isalpha() and after.isalpha()
    if char in _OPENING:
        return not before.isalnum() and (after.isalnum() or after.isspace())
    if char in _CLOSING:
        return not after.isalnum()
    if char in _RELATIONS:
        even = before.isspace() == after.isspace() and char != "∞"
        return even or (char in "Ωπ" and not after.isalpha())
    return char in _MARKS_OF_TEXT and not (before.isalpha() and after.isalpha())
