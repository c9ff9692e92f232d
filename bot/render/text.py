"""Plain text for a terminal, and the fallback everywhere."""

from bot.replies import Reply


def text_of(reply: Reply) -> str:
    """Return the message as lines, without its buttons."""
    return "\n".join((reply.first, *reply.lines, *(f"! {caution}" for caution in reply.cautions)))


def with_buttons(reply: Reply) -> str:
    """Return the message with its buttons as numbered choices."""
    if not reply.offers:
        return text_of(reply)
    buttons = "  ".join(f"[{n}] {offer.label}" for n, offer in enumerate(reply.offers, 1))
    return f"{text_of(reply)}\n{buttons}"
