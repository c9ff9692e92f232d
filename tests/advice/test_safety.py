"""What must hold for every combination of facts, every note from a manual and every way of asking."""

from dataclasses import fields, replace

from hypothesis import strategies as st

from bot.advice.answer import answer
from bot.advice.cautions import cautions
from bot.advice.compatibility import vetoed
from bot.advice.decide import decide, with_manual
from bot.advice.question import About, PartRef, Question, Stated
from bot.advice.rules import ASKED, Rule, Verdict
from bot.advice.sources import PRACTICE
from bot.advice.substances import STUFF, Base, is_hydrocarbon, is_silicone
from bot.advice.wording import SHORT
from store.catalogue import CATALOGUE, ItemFacts, PartFacts
from store.catalogue.cylinders import NECK_RING
from store.vocabulary import (
    Elastomer,
    Load,
    Motion,
    OpenedBy,
    PartKind,
    SealMaterial,
    Substance,
    ZipMaterial,
)
from tests.doses import doses, holds_for

maybe = lambda values: st.none() | st.sampled_from(list(values))  # noqa: E731 - reads as the word it is
FACTS = st.builds(
    PartFacts,
    kind=maybe(PartKind),
    motion=maybe(Motion),
    load=maybe(Load),
    gas=maybe([True, False]),
    o2_fraction=st.none() | st.floats(0.05, 1.0),
    pure_oxygen_fill=maybe([True, False]),
    upstream=maybe([True, False]),
    loop=maybe([True, False]),
    elastomer=maybe(Elastomer),
    bonded=maybe([True, False]),
    opened_by=maybe(OpenedBy),
    zip_material=maybe(ZipMaterial),
    watertight=maybe([True, False]),
    uncleaned=maybe([True, False]),
)
STATED = st.builds(
    Stated,
    kind=maybe(PartKind),
    motion=maybe(Motion),
    gas=maybe([True, False]),
    o2_fraction=st.none() | st.floats(0.05, 1.0),
    elastomer=maybe(Elastomer),
    bonded=maybe([True, False]),
    opened_by=maybe(OpenedBy),
    zip_material=maybe(ZipMaterial),
)
ITEM = st.builds(
    ItemFacts,
    o2_fraction=st.none() | st.floats(0.05, 1.0),
    zip_material=maybe(ZipMaterial),
    seal_material=maybe(SealMaterial),
    pure_oxygen_fill=maybe([True, False]),
)
REFS = st.sampled_from([PartRef(item=k.kind, part=p.key) for k in CATALOGUE.values() for p in k.parts])
QUESTIONS = st.builds(
    Question,
    about=st.sampled_from(About),
    candidates=st.lists(REFS, max_size=3).map(tuple),
    substance=maybe(Substance),
    weighed=st.lists(st.sampled_from(Substance), max_size=2).map(tuple),
    stated=STATED,
    manual=st.none() | st.lists(st.sampled_from(Substance), max_size=3).map(tuple),
    cleaning=st.booleans(),
)


@doses(150, 600)
def test_every_combination_has_a_rule_or_a_question(dose):
    @holds_for(dose, FACTS)
    def _(facts):
        outcome = decide(facts)
        assert isinstance(outcome, Rule) or outcome in ASKED


@doses(150, 600)
def test_no_rule_and_no_manual_puts_a_forbidden_substance_on_a_part(dose):
    @holds_for(dose, FACTS, st.none() | st.lists(st.sampled_from(Substance), max_size=3).map(tuple))
    def _(facts, manual):
        outcome = decide(facts)
        if not isinstance(outcome, Rule):
            return
        rule = with_manual(outcome, facts, manual)[0] if manual is not None else outcome
        forbidden = [s for s in rule.use if vetoed(s, facts)]
        assert forbidden == []
        if facts.gas:
            assert [s for s in rule.use if is_hydrocarbon(s) or is_silicone(s)] == []
        if facts.elastomer in {Elastomer.NR, Elastomer.EPDM}:
            assert [s for s in rule.use if STUFF[s].base is Base.HYDROCARBON] == []


@doses(150, 600)
def test_no_question_however_asked_yields_a_forbidden_substance(dose):
    @holds_for(dose, QUESTIONS, ITEM)
    def _(question, item):
        told = answer(question, item)
        parts = [CATALOGUE[r.item].part(r.part) for r in question.candidates]
        if told.verdict is not Verdict.CLARIFY and parts and all(p.gas for p in parts):
            assert [s for s in told.use if is_hydrocarbon(s) or is_silicone(s)] == []
        if (
            told.verdict is not Verdict.CLARIFY
            and parts
            and all(p.upstream and p.kind is PartKind.O_RING for p in parts)
        ):
            assert [
                s for s in told.use if s is not Substance.FRESH_WATER and s is not Substance.SOAPY_WATER
            ] == []


@doses(150, 600)
def test_first_line_fits_and_choices_stand_only_where_something_is_asked(dose):
    @holds_for(dose, QUESTIONS, ITEM)
    def _(question, item):
        told = answer(question, item)
        assert 0 < len(told.short) <= SHORT
        assert bool(told.choices) == (told.verdict is Verdict.CLARIFY)


@doses(150, 600)
def test_life_support_always_defers_to_maker_and_technician(dose):
    @holds_for(dose, QUESTIONS, ITEM)
    def _(question, item):
        told = answer(question, item)
        parts = [CATALOGUE[r.item].part(r.part) for r in question.candidates]
        if told.verdict is not Verdict.CLARIFY and parts and all(p.gas for p in parts):
            assert any("maker's manual and a qualified technician decide" in c for c in told.cautions)


@doses(150, 600)
def test_more_facts_never_remove_a_caution(dose):
    @holds_for(dose, FACTS, FACTS)
    def _(less, more):
        known = {f.name: getattr(less, f.name) for f in fields(less)}
        fuller = replace(more, **{name: value for name, value in known.items() if value is not None})
        assert {c.id for c in cautions(less)} <= {c.id for c in cautions(fuller)}


@doses(40, 150)
def test_choices_lead_to_an_answer_within_three_questions(dose):
    @holds_for(dose, QUESTIONS, ITEM)
    def _(question, item):
        asked, told = 0, answer(question, item)
        while told.verdict is Verdict.CLARIFY and asked <= 3:
            asked, told = asked + 1, answer(told.choices[-1].question, item)
        assert asked <= 3


def test_every_rule_that_speaks_names_a_source():
    spoken = answer(
        Question(about=About.WHAT, candidates=(PartRef(item="twinset", part="barrel_rings"),))
    ).because
    assert all(b.source and b.authority in {"maker", "published", "practice"} for b in spoken)
    assert str(PRACTICE) == "common practice, no source"


def test_manual_cannot_leave_a_cleaner_on_a_neck_ring():
    """Found by these properties under a free seed."""
    ring = NECK_RING.facts(ItemFacts())
    rule, veto = with_manual(decide(ring), ring, (Substance.WHITE_VINEGAR,))
    assert (rule.use, veto.id) == ((), "cleaner_before_shut_off")
