"""What happens in the rooms that the bot is in, told as events of the port; what it has to do about it, done.

Theory of operation. A tap on one of our signs becomes a press: what the sign means is looked up in our message that it
stands below. Coming and going is told as presence: whoever leaves their private chat does not want to hear from us, a
room that a third person has come into is no private chat any more, a room that moved on is followed.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping

from nio import (
    AsyncClient,
    Event,
    MatrixRoom,
    MegolmEvent,
    PowerLevels,
    PowerLevelsEvent,
    ReactionEvent,
    RoomMemberEvent,
    RoomUpgradeEvent,
)

from bot.chat.matrix import incoming as coming
from bot.chat.matrix import rendering as out
from bot.chat.matrix.errors import RequestRefused, checked, passing
from bot.chat.matrix.rooms import Rooms
from bot.chat.port import ButtonPressed, Content, OnEvent, Place, PresenceChanged, TextSaid
from bot.clock import Clock, WallClock

log = logging.getLogger(__name__)


Meaning = Callable[[str, str], Mapping[str, str] | None]
"""The action of each sign below a message of ours, by its room and reference; None where that is not known."""


class EventHandler:
    """Handles what the listener brings, and hands over what is for the program.

    Parameters
    ----------
    client, rooms
        Of the adapter.
    clock : Clock
        Tells when something was said. While it is not the wall clock, the times of the server are not used.
    hand_over : OnEvent
        Stores an event of the port.
    meaning : Meaning
        Tells what the signs below a message mean that was edited a moment ago.
    """

    def __init__(
        self, client: AsyncClient, rooms: Rooms, clock: Clock, hand_over: OnEvent, meaning: Meaning
    ) -> None:
        self._client = client
        self._rooms = rooms
        self._clock = clock
        self._use_dates = isinstance(clock, WallClock)
        self._hand_over = hand_over
        self._meaning = meaning

    async def _tell(self, event: Event, room: MatrixRoom, content: Content, user: str = "") -> None:
        place = await self._rooms.place(room)
        at = coming.moment(event, self._clock.now(), use_dates=self._use_dates)
        await self._hand_over(coming.incoming(event, room, place, at, content, user))

    async def take(self, room: MatrixRoom, event: Event) -> None:
        """Handle one event of a room that we are in."""
        if isinstance(event, RoomMemberEvent):
            await self._membership(room, event)
        elif event.sender == self._client.user_id:
            return
        elif isinstance(event, PowerLevelsEvent):
            await self._levels(room, event)
        elif isinstance(event, RoomUpgradeEvent):
            await self._moved(room, event)
        elif isinstance(event, ReactionEvent):
            await self._tapped(room, event)
        elif isinstance(event, MegolmEvent):
            await self._tell(event, room, TextSaid(""))
        else:
            await self._said(room, event)

    async def _said(self, room: MatrixRoom, event: Event) -> None:
        """Hand on what somebody said. What cannot be read is passed over, so that it does not hold up the rest."""
        try:
            content = coming.said(event)
        except Exception as error:
            log.error("Matrix: an event could not be read (%s) and was passed over", type(error).__name__)
            return
        if content is not None:
            await self._tell(event, room, content)

    # ------------------------------------------------------------ taps

    async def _tapped(self, room: MatrixRoom, event: ReactionEvent) -> None:
        action = await self._action(room.room_id, event.reacts_to, out.normal_key(event.key))
        if action:
            await self._tell(event, room, ButtonPressed(action, event.reacts_to))

    async def _action(self, address: str, reference: str, key: str) -> str:
        """Return what a sign below our message means; empty if nothing.

        The database does not know a message yet in the moment between its arrival and the note of that (or if the
        program died in between). The message itself, which only we can have written, says the same.
        """
        edited = self._meaning(address, reference)
        if edited is not None:
            return edited.get(key, "")
        message = await self._rooms.records.message(address, reference)
        if message is not None:
            return out.actions(message).get(key, "")
        event = await self._own_message(address, reference)
        meaning = event.source.get("content", {}).get(out.ACTIONS) if event is not None else None
        action = meaning.get(key, "") if isinstance(meaning, dict) else ""
        return action if isinstance(action, str) else ""

    async def _own_message(self, address: str, reference: str) -> Event | None:
        try:
            found = await checked(self._client.room_get_event(address, reference))
        except RequestRefused as refusal:
            if passing(refusal):
                raise
            return None
        event = found.event
        if isinstance(event, MegolmEvent):
            event.room_id = address
            event = self._client.olm._decrypt_megolm_no_error(event)
        ours = isinstance(event, Event) and event.sender == self._client.user_id
        return event if ours else None

    # ------------------------------------------------------------ coming and going

    async def _membership(self, room: MatrixRoom, event: RoomMemberEvent) -> None:
        ours = event.state_key == self._client.user_id
        before = event.prev_membership or "leave"
        if event.membership == before:
            return  # a new name or picture
        if ours:
            if event.membership == "join" and before == "invite":
                await self._arrived(room, event)
            return
        if not await self._rooms.belongs(room):
            await self._withdraw(room, event)
        elif event.membership == "join" and await self._rooms.place(room) == "private":
            await self._tell(event, room, PresenceChanged("unblocked"), event.state_key)
        elif event.membership in ("leave", "ban") and not self._rooms.others(room):
            await self._deserted(room, event)

    async def _arrived(self, room: MatrixRoom, event: RoomMemberEvent) -> None:
        """Begin in a room that we were invited to: as if its person had said "start"."""
        former = self._rooms.former(room.room_id)
        if former is not None:
            await self._told_moved(former, event, room.room_id)
            return
        if not await self._rooms.belongs(room):
            await self._rooms.leave_crowd(room.room_id)
            return
        others = self._rooms.others(room)
        by = str(event.source.get("unsigned", {}).get("prev_sender") or (others[0] if others else ""))
        if await self._rooms.place(room) == "class":
            await self._tell(event, room, PresenceChanged("added"), by)
        elif others:
            await self._rooms.secure(room)
            await self._tell(event, room, TextSaid("/start"), others[0])

    async def _withdraw(self, room: MatrixRoom, event: RoomMemberEvent) -> None:
        """Leave a private chat that a third person has come into."""
        await self._tell_gone(room, event, PresenceChanged("blocked"))
        await self._rooms.leave_crowd(room.room_id)

    async def _deserted(self, room: MatrixRoom, event: RoomMemberEvent) -> None:
        """Note that somebody has ended their private chat, and leave the empty room."""
        if await self._rooms.records.is_class_room(room.room_id):
            return
        await self._tell_gone(room, event, PresenceChanged("blocked"))
        await self._rooms.leave(room.room_id)

    async def _tell_gone(self, room: MatrixRoom, event: RoomMemberEvent, gone: PresenceChanged) -> None:
        at = coming.moment(event, self._clock.now(), use_dates=self._use_dates)
        await self._hand_over(coming.incoming(event, room, "private", at, gone, event.state_key))

    async def left(self, address: str, events: list[Event]) -> None:
        """Handle that we are out of a room; by our own doing, it has been said already."""
        me = self._client.user_id
        room = self._client.rooms.get(address) or MatrixRoom(address, me)
        for event in events:
            out_of_it = isinstance(event, RoomMemberEvent) and event.membership in ("leave", "ban")
            if out_of_it and event.state_key == me and event.sender != me:
                bound = await self._rooms.records.is_class_room(address)
                at = coming.moment(event, self._clock.now(), use_dates=self._use_dates)
                change = PresenceChanged("removed" if bound else "blocked")
                place: Place = "class" if bound else "private"
                await self._hand_over(coming.incoming(event, room, place, at, change))
        self._rooms.forget(address)

    async def _levels(self, room: MatrixRoom, event: PowerLevelsEvent) -> None:
        """Note that our right to write in a class room has gone or come back."""
        if room.replacement_room:
            return  # an upgrade silences the old room; where it went is told instead
        before = event.source.get("unsigned", {}).get("prev_content")
        me = self._client.user_id
        may = event.power_levels.can_user_send_message(me)
        could = _levels_of(before).can_user_send_message(me)
        if may != could and await self._rooms.place(room) == "class":
            await self._tell(event, room, PresenceChanged("added" if may else "limited"))

    async def _moved(self, room: MatrixRoom, event: RoomUpgradeEvent) -> None:
        """Follow a room to its next version; where that needs an invitation, it is noticed when that comes."""
        try:
            await checked(self._client.join(event.replacement_room))
        except RequestRefused as refusal:
            if passing(refusal):
                raise
            log.info("Matrix: a room has a new version that needs an invitation (%s)", refusal)
            return
        await self._told_moved(room, event, event.replacement_room)

    async def _told_moved(self, former: MatrixRoom, event: Event, address: str) -> None:
        await self._tell(event, former, PresenceChanged("moved", address))
        await self._rooms.leave(former.room_id)


def _levels_of(content: object) -> PowerLevels:
    """Read older power levels; the defaults of the specification where there were none."""
    if not isinstance(content, dict):
        return PowerLevels()
    read = PowerLevelsEvent.from_dict(
        {
            "type": "m.room.power_levels",
            "state_key": "",
            "sender": "@x:x",
            "event_id": "$x",
            "origin_server_ts": 0,
            "content": content,
        }
    )
    return read.power_levels if isinstance(read, PowerLevelsEvent) else PowerLevels()
