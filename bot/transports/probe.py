"""Looks whether a wire can be reached with what was set, for the doctor. It sends nothing and changes nothing."""

import asyncio
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

import aiohttp

PATIENCE_S = 10
MOST_SKEW = timedelta(seconds=30)
"""A clock that is further off reminds at the wrong hour, and certificates may be refused."""
Said = tuple[bool, str]
"""Whether it is well, and what is so or what to mend."""


async def reached(url: str, now: datetime) -> Said:
    """Tell whether a server answers, and how far the clock is off by its Date header (RFC 9110, 6.6.1)."""
    try:
        timeout = aiohttp.ClientTimeout(total=PATIENCE_S)
        async with (
            aiohttp.ClientSession(timeout=timeout, trust_env=True) as session,
            session.get(url, allow_redirects=False) as answer,
        ):
            date = answer.headers.get("Date")
    except (aiohttp.ClientError, TimeoutError, OSError, ValueError) as error:
        return False, f"{url} cannot be reached ({type(error).__name__}): check the address and the line"
    skew = now - parsedate_to_datetime(date).astimezone(UTC) if date else timedelta(0)
    if abs(skew) > MOST_SKEW:
        return (
            False,
            f"{url} answers, but this clock is off by {skew.total_seconds():.0f} s: set it by a time server",
        )
    return True, f"{url} answers"


async def telegram(token: str, api: str, *, webhook: bool) -> list[Said]:
    """Tell whether the token is taken, and whether updates come the way the settings say."""
    from telegram.error import TelegramError  # noqa: PLC0415 - only where that wire is on

    from bot.transports.telegram import client  # noqa: PLC0415 - same
    from bot.transports.telegram_send import why  # noqa: PLC0415 - same

    bot = client(token, api)
    try:
        async with asyncio.timeout(PATIENCE_S):
            await bot.initialize()
            found = [(True, f"the token is taken: @{bot.username}")]
            info = await bot.get_webhook_info()
    except (TelegramError, TimeoutError) as error:
        said = why(error)
        mend = ": copy it again from whoever gave it out" if "token" in said else ""
        return [(False, said + mend)]
    finally:
        await bot.shutdown()
    if info.last_error_message:
        found.append((not webhook, f"the last delivery failed: {info.last_error_message}"))
    if info.pending_update_count:
        found.append((True, f"{info.pending_update_count} messages wait to be fetched"))
    if bot.can_join_groups and not bot.can_read_all_group_messages:
        found.append((True, "in groups it hears commands, mentions and answers to it, which is enough"))
    return found


async def matrix(homeserver: str, user: str, token: str, kept: str) -> list[Said]:
    """Tell whether the homeserver takes the login: the token that was set, or the one that was kept."""
    from nio import AsyncClient, ErrorResponse  # noqa: PLC0415 - only where that wire is on

    from bot.transports.matrix_client import NO_RETRIES  # noqa: PLC0415 - same

    if not (token or kept):
        return [(True, f"{user} will log in with the password at the first start")]
    client = AsyncClient(homeserver, user, config=NO_RETRIES)
    client.access_token = token or kept
    try:
        async with asyncio.timeout(PATIENCE_S):
            who = await client.whoami()
    except (aiohttp.ClientError, TimeoutError, OSError) as error:
        return [(False, f"the login cannot be checked ({type(error).__name__})")]
    finally:
        await client.close()
    if isinstance(who, ErrorResponse):
        return [(False, f"the login is refused ({who.status_code}): set a new token, or the password")]
    if who.user_id != user:
        return [(False, f"that token is of {who.user_id}, not of {user}: set RINSETANK_MATRIX_USER")]
    return [(True, f"logged in as {who.user_id}, device {who.device_id}")]
