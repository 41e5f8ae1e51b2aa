"""English: channel."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "channel.bound": (
        "This is the place of *{name}* now. A teacher’s line such as “New topic: Hooke’s law” "
        "starts a topic. "
        "Questions come to each student in private."
    ),
    "channel.hello": (
        "To bind this place to a class, its teacher sends me this code in private: *{code}*. "
        "In a Telegram group I hear topics only as an administrator."
    ),
    "channel.code_wrong": (
        "This code does not bind a place: it is wrong, used up or too old. In private, *channel* "
        "makes a new one."
    ),
    "channel.code_private": (
        "This code does nothing here. A teacher of the class sends it to me in private; then this place is bound."
    ),
}
