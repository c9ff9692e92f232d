"""Matrix: the library's client with its retries off and several faults of it mended. Each method says which."""

from datetime import timedelta
from typing import Any, cast

import structlog
from nio import (
    Api,
    AsyncClient,
    AsyncClientConfig,
    ErrorResponse,
    Event,
    KeysUploadError,
    KeysUploadResponse,
    MegolmEvent,
    RoomMessagesResponse,
    ShareGroupSessionError,
    ShareGroupSessionResponse,
)
from nio.events.to_device import ToDeviceEvent
from nio.exceptions import EncryptionError

REQUEST_S = 30
NO_RETRIES = AsyncClientConfig(max_limit_exceeded=0, max_timeouts=0, request_timeout=REQUEST_S)
"""When to try again is decided in one place, which is not the library."""
_SAID = {"m.room.message", "m.reaction"}
_LONGEST_WAIT_S = 86_400
log = structlog.get_logger(__name__)


class RefusedError(Exception):
    """The homeserver said no."""

    def __init__(self, answer: ErrorResponse) -> None:
        """Keep its answer."""
        super().__init__(str(answer.status_code))
        self.answer = answer


def granted(answer: Any) -> None:
    """Raise RefusedError if an answer is a refusal."""
    if isinstance(answer, ErrorResponse):
        raise RefusedError(answer)


def status_of(answer: Any) -> int:
    """Return the HTTP status of an answer, 0 if it had none."""
    return int(getattr(answer.transport_response, "status", 0) or 0)


def wait_of(answer: ErrorResponse) -> timedelta | None:
    """Return how long a homeserver asked to wait, None if it did not: by its header, in seconds, or the older field."""
    headers = getattr(answer.transport_response, "headers", None) or {}
    told = str(headers.get("Retry-After", "")).strip()
    if told.isascii() and told.isdigit():
        return timedelta(seconds=min(int(told), _LONGEST_WAIT_S))
    older = answer.retry_after_ms
    if isinstance(older, int | float) and 0 < older < float("inf"):
        return timedelta(milliseconds=min(older, _LONGEST_WAIT_S * 1000))
    return None


class Client(AsyncClient):  # type: ignore[misc]  # it ships no types
    """A client whose keys survive a crash, and which no message of a stranger stops."""

    async def keys_upload(self) -> KeysUploadResponse | KeysUploadError:
        """Upload keys that were saved first: after a crash in between, the same ones go again and are taken."""
        keys = self.olm.share_keys()
        self.olm.save_account()
        answer = await self._send(KeysUploadResponse, *Api.keys_upload(self.access_token, keys))
        return cast("KeysUploadResponse | KeysUploadError", answer)

    async def share_group_session(
        self, room_id: str, ignore_unverified_devices: bool = False
    ) -> ShareGroupSessionResponse | ShareGroupSessionError:
        """Share the room's key. A failure on the way leaves no lock behind, nor a key that counts as shared and is not."""
        try:
            answer = await super().share_group_session(room_id, ignore_unverified_devices)
        except BaseException:
            waiting = self.sharing_session.pop(room_id, None)
            if waiting is not None:
                waiting.set()
            raise
        session = self.olm.outbound_group_sessions.get(room_id)
        if session is not None and self._left_out(room_id, session):
            session.shared = False
        return cast("ShareGroupSessionResponse | ShareGroupSessionError", answer)

    def _left_out(self, room_id: str, session: Any) -> bool:
        """Tell whether a device that can be written to has not got the key."""
        reached = session.users_shared_with | session.users_ignored
        return any(
            (user, device.id) not in reached and self.olm.session_store.get(device.curve25519) is not None
            for user in self.rooms[room_id].users
            for device in self.device_store.active_user_devices(user)
            if device.id != self.device_id or user != self.user_id
        )

    def _handle_decrypt_to_device(self, to_device_event: ToDeviceEvent) -> ToDeviceEvent | None:
        """Leave aside what somebody sent malformed: it would end every sync."""
        try:
            return super()._handle_decrypt_to_device(to_device_event)
        except Exception as error:  # noqa: BLE001 - whatever a stranger's message sets off
            log.warning("to_device_unreadable", wire="matrix", reason=type(error).__name__)
            return None

    def read(self, event: MegolmEvent) -> Event | None:
        """Decrypt an event; None if that cannot be done now. EncryptionError is not all that the library throws at what is malformed.

        Only what people say is taken from under encryption: the homeserver vouches for nothing else that stands there,
        and the library would take a membership or a new room from it as if it did.
        """
        try:
            found = self.olm.decrypt_megolm_event(event)
        except EncryptionError:
            return None
        except Exception as error:  # noqa: BLE001 - whatever a stranger's message sets off
            log.warning("event_unreadable", wire="matrix", reason=type(error).__name__)
            return None
        source = getattr(found, "source", None)
        told = source if isinstance(source, dict) else {}
        same = (getattr(found, "sender", None), getattr(found, "event_id", None)) == (
            event.sender,
            event.event_id,
        )
        if same and told.get("type") in _SAID and "state_key" not in told:
            return cast("Event", found)
        return Event({**event.source, "type": "m.room.encrypted", "content": {}})

    def _handle_timeline_event(self, event: Any, room_id: str, room: Any, encrypted_rooms: set[str]) -> Any:
        """Read what is encrypted by `read`, and leave aside what somebody sent malformed."""
        if isinstance(event, MegolmEvent):
            event.room_id = room_id
            return self.read(event)
        try:
            return super()._handle_timeline_event(event, room_id, room, encrypted_rooms)
        except Exception as error:  # noqa: BLE001 - as above
            log.warning("event_unreadable", wire="matrix", reason=type(error).__name__)
            return None

    def _handle_messages_response(self, response: RoomMessagesResponse) -> None:
        """Read what is encrypted by `read`."""
        for place, event in enumerate(response.chunk):
            if isinstance(event, MegolmEvent):
                response.chunk[place] = self.read(event) or event
