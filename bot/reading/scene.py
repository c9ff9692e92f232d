"""What a message is read against: the day, the diver's own words, what the talk was about."""

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

    def after(self, item: str | None, part: str | None = None) -> "Scene":
        """Return what the next clause is read against, once this one spoke of an item or a part."""
        return replace(
            self,
            fresh=self.fresh or item is not None,
            item=item or self.item,
            part=part or (None if item else self.part),
        )
