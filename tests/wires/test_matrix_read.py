"""Reading what anybody may send: nothing raises, and what is not what it should be is nothing."""

from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.transports import matrix_read as read
from bot.updates import Meant

NOW = datetime(2026, 6, 10, tzinfo=UTC)
words = st.text(st.characters(), max_size=40) | st.sampled_from(
    ["m.text", "m.replace", "m.thread", "$a:b", "²\u20e3", "geo:1,2", "\ud800"]
)
anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=8,
)
relation = anything | st.fixed_dictionaries(
    {},
    optional={
        "rel_type": anything,
        "event_id": anything,
        "key": anything,
        "is_falling_back": anything,
        "m.in_reply_to": anything | st.fixed_dictionaries({"event_id": anything}),
    },
)
content = anything | st.fixed_dictionaries(
    {},
    optional={
        "msgtype": anything,
        "body": anything,
        "formatted_body": anything,
        "m.relates_to": relation,
        "m.new_content": anything,
        "m.mentions": anything | st.fixed_dictionaries({"user_ids": anything}),
        "geo_uri": anything,
        "info": anything | st.fixed_dictionaries({"size": anything}),
        "filename": anything,
        "file": anything,
        "membership": anything,
    },
)
event = st.fixed_dictionaries(
    {}, optional={"content": content, "type": anything, "state_key": anything, "unsigned": anything}
)


@given(event, anything, anything)
def test_nothing_that_anybody_sends_raises(source, stamp, name):
    came = SimpleNamespace(source=source, server_timestamp=stamp)
    said = read.content_of(came)
    heard = read.heard(said)
    assert isinstance(heard.said, dict)
    for target in (heard.edited, heard.thread, heard.answered):
        assert target is None or target.startswith("$")
    body = read.body_of(heard.said)
    assert "\0" not in body
    assert body.encode().decode() == body
    assert set(read.words(read.without_name(body, {"rinse"}), heard.answered)) <= {
        "text",
        "tap_place",
        "under",
    }
    assert set(read.other_than_text(heard.said)) <= {"place", "cannot"}
    assert read.mentions(said, "@rinse:reef.test") in {True, False}
    assert read.file_name(said)
    assert read.is_too_large(said) in {True, False}
    assert read.own(came, "@rinse:reef.test", "join") in {True, False}
    assert read.when(came, NOW) <= NOW
    assert read.name_of(name).isprintable()
    found = read.reaction(said)
    assert found is None or found[0].startswith("$")


@pytest.mark.parametrize(
    ("key", "means"),
    [
        ("✅", {"meant": Meant.DONE}),
        ("✔️", {"meant": Meant.DONE}),
        ("👍🏽", {"meant": Meant.DONE}),
        ("⏰", {"meant": Meant.LATER}),
        ("1\ufe0f\u20e3", {"tap_place": 0}),
        ("🔟", {"tap_place": 9}),
        ("0\ufe0f\u20e3", None),
        ("²\u20e3", None),
        ("🤿", None),
        (7, None),
    ],
)
def test_what_a_reaction_means(key, means):
    found = read.reaction({"m.relates_to": {"key": key, "event_id": "$one"}})
    assert found == (None if means is None else ("$one", means))


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("rinse: add fins", "add fins"),
        ("@rinse:reef.test add fins", "add fins"),
        ("@rinse, add fins", "add fins"),
        ("Rinse Tank: add fins", "add fins"),
        ("rinse the suit", "rinse the suit"),
        ("rinsed the suit", "rinsed the suit"),
    ],
)
def test_in_a_room_of_two_only_a_name_that_is_set_apart_is_left_out(text, left):
    assert (
        read.without_name(text, {"@rinse:reef.test", "rinse:reef.test", "rinse", "Rinse Tank"}, bare=False)
        == left
    )


@pytest.mark.parametrize(
    ("text", "called"),
    [("rinse add fins", True), ("  !add", True), ("rinsed it", False), ("the rinse", False)],
)
def test_a_name_first_calls(text, called):
    assert read.is_called(text, {"rinse"}) is called


@pytest.mark.parametrize("uri", ["geo:91,0", "geo:0,181", "geo:1e3,2", "geo:9999,1", "geo:", 7, None])
def test_places_that_are_nowhere_are_nothing(uri):
    assert read.other_than_text({"msgtype": "m.location", "geo_uri": uri}) == {}


def test_a_new_name_of_the_bot_is_no_joining():
    joined = {"type": "m.room.member", "state_key": "@r:x", "content": {"membership": "join"}}
    renamed = joined | {"unsigned": {"prev_content": {"membership": "join"}}}
    assert read.own(SimpleNamespace(source=joined), "@r:x", "join")
    assert not read.own(SimpleNamespace(source=renamed), "@r:x", "join")


def test_a_time_from_the_future_is_now():
    assert read.when(SimpleNamespace(server_timestamp=10**18), NOW) == NOW
    assert read.when(SimpleNamespace(server_timestamp=0), NOW).year == 1970
