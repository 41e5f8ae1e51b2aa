"""German: channel."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "channel.bound": (
        "Das hier ist jetzt der Ort von *{name}*. Eine Zeile der Lehrkraft wie „Neues Thema: Hookesches Gesetz“ "
        "beginnt ein Thema. "
        "Die Fragen kommen zu jeder und jedem einzeln, im privaten Chat."
    ),
    "channel.hello": (
        "Um diesen Ort mit einer Klasse zu verbinden, schickt mir die Lehrkraft diesen Code privat: *{code}*. "
        "In einer Telegram-Gruppe höre ich Themen nur als Administrator."
    ),
    "channel.code_wrong": (
        "Dieser Code verbindet keinen Ort: Er ist falsch, verbraucht oder zu alt. Privat getippt, macht *channel* "
        "einen neuen."
    ),
    "channel.code_private": (
        "Hier bewirkt dieser Code nichts. Schickt ihn mir eine Lehrkraft der Klasse privat, ist dieser Ort verbunden."
    ),
}
