"""What a message is read against: the day, the diver's own words, what the talk was about."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from bot.understand.message import Message


@dataclass(frozen=True)
class Scene:
    """`message` is the whole message; pieces of it are read with the same words known."""

    message: Message
    imperial: bool = False
    """Bare numbers are feet and Fahrenheit."""
    item: str | None = None
    """The item last spoken of, as said: what "it" means."""
    part: str | None = None
    """The part last spoken of, as said."""
    items: tuple[str, ...] = ()
    """The items that this message spoke of before, the last one first: one of them has the part that is named next."""
    them: tuple[str, ...] = ()
    """The items that were spoken of together last: what "them" means."""
    about: str = ""
    """What the bot did last, in the corpora's words: "dive", "asked: ..."."""
    fresh: bool = False
    """It was this very message that spoke of `item`."""

    @property
    def today(self) -> date:
        """Return the date in the diver's zone."""
        return self.message.today

    @property
    def names(self) -> tuple[str, ...]:
        """Return what the diver calls their own items."""
        return self.message.names

    def of(self, text: str) -> Message:
        """Return a piece of the message, read with the same words known."""
        return self.message.again(text)

    def after(self, items: Sequence[str], part: str | None = None) -> "Scene":
        """Return what is read next against, once items or a part were spoken of."""
        return replace(
            self,
            fresh=self.fresh or bool(items),
            item=items[-1] if items else self.item,
            items=tuple(dict.fromkeys((*reversed(items), *self.items))),
            them=tuple(items) or self.them,
            part=part or (None if items else self.part),
        )
