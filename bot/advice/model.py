"""The shape of an answer."""

from dataclasses import asdict, dataclass
from typing import Any

from bot.advice.cautions import Caution
from bot.advice.compatibility import Objection
from bot.advice.question import Question
from bot.advice.rules import Rule, Verdict
from bot.advice.sources import MAKER, Authority
from store.vocabulary import Substance


@dataclass(frozen=True, slots=True)
class Because:
    """A row that spoke: its id, its reason, who says so and with which authority."""

    rule: str
    why: str
    source: str
    authority: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A way to complete the question, and the question it completes to."""

    label: str
    question: Question


@dataclass(frozen=True, slots=True)
class Advice:
    """The contract's answer. `part` is None where no part could be told; `choices` is filled for `clarify` only."""

    verdict: Verdict
    part: str | None
    short: str
    use: tuple[Substance, ...] = ()
    avoid: tuple[Substance, ...] = ()
    choices: tuple[Choice, ...] = ()
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    because: tuple[Because, ...] = ()

    @property
    def text(self) -> str:
        """The whole answer as plain lines, the first being `short`."""
        return "\n".join((self.short, *self.lines, *(f"! {c}" for c in self.cautions)))

    def as_data(self, question: str) -> dict[str, Any]:
        """Return the object of the contract for `--json`."""
        return {
            "question": question,
            "verdict": self.verdict.value,
            "part": self.part,
            "use": [s.value for s in self.use],
            "avoid": [s.value for s in self.avoid],
            "choices": [c.label for c in self.choices],
            "short": self.short,
            "text": self.text,
            "cautions": list(self.cautions),
            "because": [asdict(b) for b in self.because],
        }


def because_of(row: Rule | Objection | Caution, *, maker: bool = False) -> Because:
    """Name the row that spoke; `maker`: the diver's own manual said so."""
    source = MAKER if maker else row.source
    why = row.text if isinstance(row, Caution) else row.why
    return Because(row.id, why, str(source), source.authority.value if source else Authority.PRACTICE.value)
