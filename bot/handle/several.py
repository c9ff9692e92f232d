"""Does all of what one message told or asked, each said in its own lines; one undo takes it all back."""

from dataclasses import replace

from bot.handle.visit import Visit
from bot.handle.wording import listed
from bot.replies import Reply
from bot.understand.intents import Several, Undo
from bot.understand.reader import Offer


def several(intent: Several, visit: Visit) -> Reply:
    """Handle each in its order. What asks back goes first, since its buttons are what a typed answer means."""
    from bot.handle.table import handle  # noqa: PLC0415 - the table names this function

    replies = [handle(one, visit) for one in intent.of]
    asking = [r for r in replies if _asks(r)]
    ordered = [*asking[:1], *(r for r in replies if r is not (asking[0] if asking else None))]
    head, *rest = ordered
    lines = [*head.lines]
    for reply in rest:
        told = (reply.first, *(() if reply.data.get("intent") == "misunderstood" else reply.lines))
        lines += [line for line in told if line not in lines and line != head.first]
    if intent.unused:
        lines.insert(0, f"I did not use: {listed(intent.unused)}.")
    undo = Offer("Undo", Undo())
    undoes = any(o.intent == undo.intent for r in replies for o in r.offers)
    offers = [o for r in (asking[:1] or replies[:1]) for o in r.offers if o.intent != undo.intent]
    return replace(
        head,
        lines=tuple(lines),
        cautions=tuple(dict.fromkeys(c for r in ordered for c in r.cautions)),
        offers=(*offers, *((undo,) if undoes else ())),
        files=tuple(f for r in ordered for f in r.files),
        data={k: v for r in reversed(ordered) for k, v in r.data.items()},
    )


def _asks(reply: Reply) -> bool:
    """Tell whether a reply waits for an answer."""
    return "?" in reply.first and bool(reply.offers)
