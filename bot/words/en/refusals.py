"""English: why something was refused. Those of the storage stand there, for the command line has them too."""

from __future__ import annotations

from collections.abc import Mapping

from storage.base.refusals import REFUSALS

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **{f"refusal.{code}": text for code, text in REFUSALS.items()},
    "refusal.only_teachers_make_classes": (
        "Only teachers can make classes. The school’s technician gives out teacher codes."
    ),
    "refusal.channel_code": "This code binds a channel. Only a teacher with a class can use it.",
    "refusal.channel_code_there": (
        "This code does nothing here. Post it in the channel or group that is to be bound. It is still good."
    ),
    "refusal.picture_gone": "That picture can no longer be fetched. Send it again.",
    "refusal.picture_kind": "That is no picture that I can show. Send a PNG or JPEG of at most {mb} MB.",
    "refusal.file_gone": "The file can no longer be fetched. Send it again.",
}
