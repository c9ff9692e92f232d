"""Understanding is total: whatever comes in, an intent comes out that can be stored, read back and printed."""

import json
from datetime import date, timedelta
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.understand.in_passing import understand_question
from bot.understand.intents import (
    AddItem,
    Ask,
    ForgetMe,
    Help,
    Intent,
    LogDive,
    Misunderstood,
    RecordCare,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
    dump,
    load,
)
from bot.understand.lexicon import lexicon
from bot.understand.reader import EXAMPLES, Context, Offer, understand
from bot.understand.text import LONGEST, clean
from store.catalogue import CATALOGUE
from store.vocabulary import ItemKind, Task

TODAY = date(2026, 6, 10)
INTENTS = get_args(get_args(Intent)[0])
few = settings(
    max_examples=150,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)

TRADE = sorted(
    {word for phrase in lexicon()._right for word in phrase.split()}
    | {phrase for kind in CATALOGUE.values() for phrase in kind.words}
    | {phrase for kind in CATALOGUE.values() for part in kind.parts for phrase in part.words}
)
TALK = (
    "add sold show rinsed greased snooze remind undo export share forget me why how often how much can could did is was "
    "what which when the my a of on in at to for and not no without called manual says maker every until from trip zone "
    "quiet hours reminders units today yesterday tomorrow monday last next ago week month year june february december"
    " flooded dropped leaking dent drained empty stamped stamp due hydro visual valid made manufactured tested in germany packing list"
    " cancel next weekend whole calendar link off no after trip days hours weeks new dive dives was were move delete why maker"
).split()
SIGNS = (
    "0 1 2 -3 12 19 32 % 99 400 1000 100000000000000000000 1.5 1,5 30m 30 m ft ' f °c degrees min h 1h10 2x x3 18/45 1/0 "
    '2026-06-10 2026-02-31 10.6.26 31/2/2026 18:00 25:99 7 pm ? ! . , ; : - / " ( ) & + ² ½ ١ ① / /due /x@y <b> * _ `'
).split()
anything = st.text(st.characters(exclude_categories=()), max_size=80)
of_the_trade = st.lists(
    st.one_of(st.sampled_from(TRADE), st.sampled_from(TALK), st.sampled_from(SIGNS), st.text(max_size=3)),
    min_size=1,
    max_size=14,
).map(" ".join)
texts = anything | of_the_trade
days = st.integers(-3000, 3000).map(lambda n: TODAY + timedelta(days=n))
intents = st.sampled_from(
    [
        Help(),
        Undo(),
        ShowKit(),
        ShowDue(task_ids=(1, 2)),
        Snooze(days=1),
        ForgetMe(confirmed=True),
        AddItem(kind=ItemKind.SCOOTER),
        LogDive(corrects=True, dive_id=3, item_ids=()),
        RecordCare(task=Task.RINSE, item_id=4),
    ]
)
contexts = st.builds(
    Context,
    offers=st.lists(st.builds(Offer, label=texts, intent=intents), max_size=4).map(tuple),
    names=st.lists(texts, max_size=3).map(tuple),
    last=st.none()
    | intents
    | st.sampled_from(EXAMPLES).map(lambda example: understand_question(example, TODAY)),
)


def assert_sound(intent: Intent) -> None:
    """Assert that it is an intent, survives the row of a button, and prints as JSON."""
    assert type(intent) in INTENTS
    stored = json.loads(json.dumps(dump(intent)))
    assert load(stored) == intent
    assert isinstance(json.loads(json.dumps(intent.fields())), dict)


@few
@given(anything)
def test_understand_of_any_text_is_sound(text):
    assert_sound(understand(text, TODAY))


@few
@given(of_the_trade)
def test_understand_of_words_of_the_trade_is_sound(text):
    assert_sound(understand(text, TODAY))


@few
@given(texts, days)
def test_understand_on_any_day_is_sound(text, today):
    assert_sound(understand(text, today))


@few
@given(texts.filter(lambda t: not clean(t).isdigit() or clean(t).isdecimal()), contexts)
def test_understand_with_any_offers_is_sound(text, context):
    assert_sound(understand(text, TODAY, context))


@few
@given(contexts, st.data())
def test_understand_of_words_of_an_offer_is_sound(context, data):
    labels = [o.label for o in context.offers] or [""]
    text = data.draw(st.sampled_from(labels)) + data.draw(
        st.sampled_from(["", " ", "s", " please", "?", " not"])
    )
    if not clean(text).isdigit() or clean(text).isdecimal():
        assert_sound(understand(text, TODAY, context))


@few
@given(texts)
def test_understand_question_of_any_text_is_sound(text):
    intent = understand_question(text, TODAY)
    assert_sound(intent)
    assert isinstance(intent, Ask | Misunderstood)


@few
@given(of_the_trade)
def test_understand_of_the_same_text_is_the_same(text):
    assert understand(text, TODAY) == understand(text, TODAY)


@few
@given(texts)
def test_understood_dive_is_within_what_can_be(text):
    intent = understand(text, TODAY)
    if isinstance(intent, LogDive):
        assert intent.dives is None or 1 <= intent.dives <= 20
        assert intent.on is None or intent.on <= TODAY
        assert intent.max_depth_m is None or 0 < intent.max_depth_m <= 350
        assert intent.duration_min is None or 0 < intent.duration_min <= 24 * 60
        assert intent.min_temp_c is None or -40 <= intent.min_temp_c <= 60
        assert intent.o2_fraction is None or 0.04 <= intent.o2_fraction <= 1
        assert intent.was_on is None or intent.was_on <= TODAY
        assert intent.corrects or not (intent.removes or intent.was_on)
        days = [dive.on for dive in (intent, *intent.also)]
        assert not intent.also or (None not in days and len(set(days)) == len(days) <= 14)


@few
@given(texts | of_the_trade)
def test_text_fills_no_field_of_a_button(text):
    """No words reach an id of a locker or confirm a loss; places in the catalogue belong to nobody, and text may name them."""
    intent = understand(text, TODAY)
    filled = {name: getattr(intent, name) for name in intent.internal() if name.endswith(("_id", "_ids"))}
    assert not any(filled.values())


@few
@given(texts)
def test_misunderstood_says_what_would_work(text):
    intent = understand(text, TODAY)
    if isinstance(intent, Misunderstood):
        assert intent.problem
        assert intent.suggestions or intent.choices
        assert [s for s in intent.suggestions if understand(s, TODAY).intent == "misunderstood"] == []


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_suggestion_is_understood(example):
    assert not isinstance(understand(example, TODAY), Misunderstood)


@pytest.mark.parametrize("length", [LONGEST, LONGEST + 1, 100_000])
@pytest.mark.parametrize("word", ["x", "a ", "2 dives ", "30 m ", "1-", "°", "o ring ", "\u202e", "what "])
def test_long_text_is_answered(word, length):
    text = (word * length)[:length]
    assert_sound(understand(text, TODAY))
    assert_sound(understand_question(text, TODAY))
    assert (understand(text, TODAY).intent == "misunderstood") or length <= LONGEST


@pytest.mark.parametrize("text", ["፩", "𐩀", "፩፪"])
def test_understand_of_a_digit_of_another_script_with_offers_does_not_raise(text):
    assert_sound(understand(text, TODAY, Context(offers=(Offer("yes", Help()),))))
