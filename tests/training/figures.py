"""First-sight figures: how the reader does on writers that it was never trained on. `python -m tests.training.figures`"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from bot.reading import clauses
from bot.reading.pieces import cut
from tests.training.marks import Marked

Score = Callable[[list[int], list[int]], Any]


def table(
    writers: Mapping[str, Sequence[Marked]], score: Score, known: Mapping[str, int], show: bool = False
) -> str:
    """Return a line a writer: messages whose kinds are right, are among the first two, flags, spans and ids."""
    lines = []
    whole: Counter[str] = Counter()
    confused: Counter[tuple[str, str]] = Counter()
    for name, rows in writers.items():
        one: Counter[str] = Counter()
        for m in rows:
            _count(
                m,
                clauses.decode(score(*_cut(m, known)), cut(m.text, known, m.context), m.text),
                one,
                confused,
                show,
            )
        lines.append(_line(name, one))
        whole += one
    lines.append(_line("all", whole))
    lines.append("confused: " + ", ".join(f"{a}>{b} {n}" for (a, b), n in confused.most_common(25)))
    return "\n".join(lines)


def _cut(m: Marked, known: Mapping[str, int]) -> tuple[list[int], list[int]]:
    pieces = cut(m.text, known, m.context)
    return pieces.ids, pieces.types


def _line(name: str, n: Counter[str]) -> str:
    def share(part: str, of: str) -> str:
        return f"{100 * n[part] / max(n[of], 1):5.1f}"

    return (
        f"{name:>12}: messages {n['messages']:5d}  kinds {share('kinds', 'messages')}  first two {share('two', 'messages')}  surer than 0.9 {share('sure', 'messages')} of which right {share('sure_right', 'sure')}"
        f"  one clause {share('one_right', 'one')}  several {share('several_right', 'several')}  flags {share('flags', 'messages')}"
        f"  spans P {share('hit', 'read')} R {share('hit', 'marked')}  ids {share('id_right', 'ids')}  all right {share('all', 'messages')}"
    )


def _count(
    m: Marked, read: Sequence[clauses.Clause], n: Counter[str], confused: Counter[tuple[str, str]], show: bool
) -> None:
    wanted = [c.kind for c in m.clauses if c.kind != "chat"] or ["chat"]
    kinds = [c.kind for c in read if c.kind != "chat"] or ["chat"]
    n["messages"] += 1
    right = list(dict.fromkeys(wanted)) == list(dict.fromkeys(kinds))
    n["kinds"] += right
    two = [{c.kind, c.other} for c in read if c.kind != "chat" or c.other in wanted]
    n["two"] += right or (len(two) == len(wanted) and all(w in t for w, t in zip(wanted, two, strict=True)))
    sure = min((c.sure for c in read), default=0) > 0.9
    n["sure"] += sure
    n["sure_right"] += sure and right
    n["one" if len(wanted) == 1 else "several"] += 1
    n["one_right" if len(wanted) == 1 else "several_right"] += right
    flags = (
        right
        and len(m.clauses) == len(read)
        and all(a.flags == b.flags for a, b in zip(m.clauses, read, strict=True))
    )
    n["flags"] += flags
    marked = {(s.start, s.end, s.slot): s.id for s in m.spans}
    found = {(s.start, s.end, s.slot): s.id for c in read for s in c.spans}
    hits = marked.keys() & found.keys()
    n["marked"] += len(marked)
    n["read"] += len(found)
    n["hit"] += len(hits)
    n["ids"] += sum(marked[h] is not None for h in hits)
    n["id_right"] += sum(marked[h] is not None and marked[h] == found[h] for h in hits)
    n["all"] += flags and marked == found
    if not right:
        for a, b in zip(dict.fromkeys(wanted), dict.fromkeys(kinds), strict=False):
            if a != b:
                confused[a, b] += 1
        if show:
            print(
                f"{m.writer}:{m.line} {{{m.context}}} {m.text}\n     wanted {wanted} read {[(c.kind, round(c.sure, 2)) for c in read]}"
            )


def main() -> None:
    """Print a line for each held-out writer, by the weights that are installed."""
    import numpy as np

    from bot.reading.encoder import encoder
    from tests.training.marks import all_writers
    from tests.training.train import split

    reader = encoder()

    def score(ids: list[int], types: list[int]) -> Any:
        return reader.session.run(
            None, {"ids": np.array([ids], np.int64), "types": np.array([types], np.int64)}
        )[0][0]

    print(table(split(all_writers())[1], score, reader.vocabulary))


if __name__ == "__main__":
    main()
