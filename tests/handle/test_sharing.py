"""Lockers with several people: who is let in, who may do what, who did it, and what is lent."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from bot.access import Access, Mode
from bot.conversation import Answer, Conversation, Update
from bot.main import token
from bot.replies import Reply
from bot.updates import Meant
from store.engine import Store
from tests.conftest import START


class Deck:
    """Several people, each in a chat of their own or in a group, on one bot."""

    def __init__(self, store: Store, access: Access | None = None) -> None:
        self.store, self.now = store, START
        self.conversation = Conversation(store, token, access=access)
        self.conversation.reached_at("boat", "https://boat.example/?start=")
        self.answers: dict[str, Answer] = {}
        self._n = 0

    def take(self, who: str, group: str | None = None, **said) -> Answer | None:
        self.now += timedelta(seconds=30)
        self._n += 1
        chat = group or who
        answer = self.conversation.take(
            Update(
                "boat",
                chat,
                who,
                self.now,
                update_id=str(self._n),
                actor_name=who.title(),
                group=group is not None,
                **said,
            )
        )
        if answer is not None:
            self.answers[chat] = answer
        return answer

    def say(self, who: str, text: str, group: str | None = None, **more) -> Reply:
        answer = self.take(who, group, text=text, **more)
        assert answer is not None
        return answer.reply

    def tap(self, who: str, label: str, group: str | None = None) -> Reply:
        answer = self.take(who, group, tap_label=label)
        assert answer is not None
        return answer.reply


@pytest.fixture
def deck(store: Store) -> Iterator[Deck]:
    return Deck(store)


def code_in(reply: Reply) -> str:
    return reply.data["code"]


def shared(deck: Deck, *others: str, owner: str = "mara") -> None:
    """Let the owner have a scooter and let others in."""
    deck.say(owner, "add scooter")
    code = code_in(deck.say(owner, "share my locker"))
    for other in others:
        deck.say(other, f"join {code}")


def test_code_opens_the_locker_of_whoever_made_it_and_leaves_ones_own(deck):
    shared(deck, "ilka")
    assert deck.say("ilka", "show kit").data["items"] == ["scooter"]
    assert deck.say("ilka", "my lockers").first == "Open here: Mara's locker."
    assert deck.tap("ilka", "Open your own locker").first == "Open here now: your own locker."
    assert deck.say("ilka", "show kit").data["items"] == []
    assert deck.say("ilka", "open Mara's locker").first == "Open here now: Mara's locker."


def test_code_is_read_with_or_without_dashes_and_by_a_link(deck):
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    for who, said in (
        ("ilka", code.lower()),
        ("ola", f"join {code.replace('-', ' ')}"),
        ("jorun", f"/start {code.replace('-', '')}"),
    ):
        assert deck.say(who, said).first == "You are in. Open here now: Mara's locker.", who


def test_reply_to_sharing_says_code_link_and_what_it_gives(deck):
    reply = deck.say("mara", "share my locker")
    code = code_in(reply)
    assert reply.first == f"Code for your own locker: {code}"
    assert reply.lines == (
        f"They write to me: join {code}",
        f"Or open: https://boat.example/?start={code.replace('-', '')}",
        "It lets in up to 30 people, until 17 June; a new code ends it.",
        "They can see this kit, log dives and record care. Only you and those you name may remove or export.",
    )


@pytest.mark.parametrize("code", ["7K3D-92QM-4HXD", "0000-0000-0000"])
def test_wrong_code_lets_nobody_in(deck, code):
    shared(deck)
    assert deck.say("ilka", f"join {code}").first == "That code is wrong, used up or over."
    assert deck.say("ilka", "show kit").data["items"] == []


def test_code_ends_after_a_week_by_a_new_one_and_when_withdrawn(deck):
    deck.say("mara", "add scooter")
    first = code_in(deck.say("mara", "share"))
    second = code_in(deck.say("mara", "share"))
    assert deck.say("ilka", f"join {first}").data["done"] is False
    deck.say("mara", "end the code")
    assert deck.say("ilka", f"join {second}").data["done"] is False
    third = code_in(deck.say("mara", "share"))
    deck.now += timedelta(days=8)
    assert deck.say("ilka", f"join {third}").data["done"] is False


MAY = ["1 dive today, salt, 20 m, with the scooter", "rinsed the scooter today", "what is due?", "show kit"]
MAY_NOT = [
    "sold the scooter",
    "export my data",
    "calendar",
    "calendar link",
    "share",
    "call this locker Ours",
    "lend the scooter to Ilka",
    "I live in Germany",
    "snooze 3 days",
    "end the code",
]


@pytest.mark.parametrize("text", MAY)
def test_member_may(deck, text):
    shared(deck, "ilka")
    assert "Only Mara" not in deck.say("ilka", text).first


@pytest.mark.parametrize("text", MAY_NOT)
def test_member_may_not_and_is_told_who_may(deck, text):
    shared(deck, "ilka")
    reply = deck.say("ilka", text)
    assert reply.first == "Only Mara, whose locker this is, or somebody they named can do that."
    assert deck.say("mara", "show kit").data["items"] == ["scooter"]


@pytest.mark.parametrize("text", MAY_NOT)
def test_owner_and_whom_they_named_may(deck, text):
    shared(deck, "ilka")
    deck.say("mara", "who is in this locker?")
    assert deck.tap("mara", "Ilka: let remove").first == "Ilka: may remove and export."
    for who in ("ilka", "mara"):
        assert "Only Mara" not in deck.say(who, text).first


def test_only_the_owner_names_and_members_cannot_raise_themselves(deck):
    shared(deck, "ilka", "ola")
    deck.say("mara", "who is in this locker?")
    stolen = deck.answers["mara"].button_ids[0]
    deck.say("ilka", "who is in this locker?")
    assert deck.answers["ilka"].button_ids == ()
    assert deck.take("ilka", tap=stolen).reply.first == "That button is too old or not from this chat."
    deck.tap("mara", "Ilka: let remove")
    deck.say("ilka", "who is in this locker?")
    assert [o.label for o in deck.answers["ilka"].reply.offers] == ["Invite"]


def test_who_was_taken_out_sees_nothing_any_more_even_by_old_buttons(deck):
    shared(deck, "ilka")
    deck.say("ilka", "show kit")
    old = deck.answers["ilka"].button_ids[0]
    deck.say("mara", "who is in this locker?")
    assert deck.tap("mara", "Ilka: out").first == "Ilka is out. What they logged stays, with their name."
    assert deck.take("ilka", tap=old).reply.first == "You are no longer in that locker."
    assert deck.say("ilka", "show kit").data["items"] == []


def test_taking_somebody_out_ends_the_code_they_came_with(deck):
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    deck.say("ilka", f"join {code}")
    deck.say("mara", "who is in this locker?")
    deck.tap("mara", "Ilka: out")
    assert deck.say("ilka", f"join {code}").data["done"] is False


def test_who_left_is_back_in_their_own(deck):
    shared(deck, "ilka")
    assert (
        deck.say("ilka", "leave this locker").first == "You have left Mara's locker. Your own locker is open."
    )
    assert deck.say("ilka", "show kit").data["items"] == []
    assert deck.say("mara", "who is in").first == "1 person in your own locker."


def test_record_says_who_did_what(deck):
    shared(deck, "ilka")
    deck.say("ilka", "rinsed the scooter today")
    deck.say("mara", "serviced the scooter by a technician today")
    deck.say("ilka", "1 dive today with the scooter")
    lines = deck.say("mara", "show scooter").lines
    assert "- rinse today, by Ilka" in lines
    assert "- service today, by you" in lines
    assert deck.say("mara", "show my dives").lines[0].endswith(", by Ilka")


def test_locker_of_one_does_not_say_who(deck):
    deck.say("mara", "add scooter")
    deck.say("mara", "rinsed the scooter today")
    assert "- rinse today" in deck.say("mara", "show scooter").lines


def test_undo_takes_back_ones_own_and_the_button_what_stood_above_it(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("ilka", "1 dive today with the scooter", group="club")
    undo = deck.answers["club"].button_ids[-1]
    deck.say("ola", "rinsed the scooter", group="club")
    assert deck.say("mara", "undo", group="club").first == "Later messages build on that one, so I left it."
    assert (
        deck.take("ola", "club", tap=undo).reply.first
        == "That was Ilka: they, or the owner, can take it back."
    )
    assert deck.take("ilka", "club", tap=undo).reply.first == "Taken back: dive log."


def test_undo_does_not_reach_what_others_said(deck):
    deck.say("mara", "add scooter", group="club")
    assert deck.say("ilka", "undo", group="club").first == "There is nothing to take back."
    assert deck.say("mara", "show kit", group="club").data["items"] == ["scooter"]


def test_undo_that_others_built_on_is_refused(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("mara", "1 dive today with the scooter", group="club")
    undo = deck.answers["club"].button_ids[-1]
    deck.say("mara", "no, that was fresh water", group="club")
    assert (
        deck.take("mara", "club", tap=undo).reply.first == "Later messages build on that one, so I left it."
    )


def test_group_has_a_locker_of_its_own_which_its_first_speaker_owns(deck):
    deck.say("mara", "add scooter")
    deck.say("ilka", "add dry suit", group="club")
    deck.say("mara", "show kit", group="club")
    assert deck.answers["club"].reply.data["items"] == ["dry suit"]
    assert deck.say("mara", "sold the dry suit", group="club").first.startswith("Only Ilka,")
    assert deck.say("ilka", "sold the dry suit", group="club").first.startswith("dry suit is out")


def test_member_of_a_group_can_open_its_locker_at_home(deck):
    deck.say("ilka", "add dry suit", group="club")
    deck.say("ilka", "call this locker Harbour Club", group="club")
    deck.say("mara", "show kit", group="club")
    deck.say("mara", "lockers")
    assert deck.tap("mara", "Open Harbour Club").first == "Open here now: Harbour Club."
    assert deck.say("mara", "show kit").data["items"] == ["dry suit"]


def test_who_left_the_group_is_out_of_its_locker(deck):
    deck.say("ilka", "add dry suit", group="club")
    deck.say("mara", "show kit", group="club")
    deck.conversation.parted("boat", "club", "mara")
    assert deck.say("mara", "lockers").offers == ()


def test_dive_in_a_shared_locker_counts_for_what_was_named_and_next_time_for_the_same(deck):
    for item in ("scooter", "dry suit", "torch"):
        deck.say("mara", f"add {item}", group="club")
    deck.say("ilka", "what is due?", group="club")
    assert deck.say("ilka", "1 dive today", group="club").lines[0] == "Counted for no item of your kit."
    deck.say("ilka", "1 dive today with the scooter", group="club")
    assert deck.say("ilka", "2 dives today", group="club").lines[0] == "Counted for: scooter."
    assert deck.say("mara", "1 dive today", group="club").lines[0] == "Counted for no item of your kit."


def test_correction_means_ones_own_last_dive(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("mara", "1 dive today with the scooter, 30 m, salt", group="club")
    deck.say("ilka", "2 dives today with the scooter, 12 m, salt", group="club")
    assert deck.say("mara", "no, that was fresh water", group="club").first.startswith("Corrected: 1 dive")


def test_member_cannot_remove_the_dive_of_another(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("mara", "1 dive yesterday with the scooter", group="club")
    said = deck.say("ilka", "delete the dive of yesterday", group="club").first
    assert said == "That dive was logged by Mara: they, or the owner, can change it."


def test_lent_item_goes_with_its_record_and_comes_back_with_what_was_dived(deck):
    shared(deck, "ilka")
    deck.say("mara", "1 dive today with the scooter")
    deck.say("ola", "hello")
    code = code_in(deck.say("ola", "share"))
    deck.say("mara", f"join {code}")
    deck.say("mara", "open my own locker")
    assert deck.say("mara", "lend the scooter to Ola").first == "Lent: scooter to Ola's locker."
    assert deck.say("mara", "show kit").lines[0] == "- scooter: lent to Ola's locker today"
    assert deck.say("ola", "show kit").lines == ("- scooter: 1 dive, lent by Mara's locker",)
    deck.say("ola", "2 dives today with the scooter")
    assert deck.say("ola", "sold the scooter").first.startswith("scooter is not yours to take out")
    assert deck.say("mara", "the scooter is back").first == "Back in your own locker: scooter."
    assert deck.say("mara", "show kit").lines == ("- scooter: 3 dives",)
    assert deck.say("ola", "show kit").data["items"] == []


def test_lending_can_be_undone_and_brings_home_what_was_recorded_meanwhile(deck):
    shared(deck)
    code = code_in(deck.say("ola", "share"))
    deck.say("mara", f"join {code}")
    deck.say("mara", "open my own locker")
    deck.say("mara", "lend the scooter to Ola")
    deck.say("ola", "flooded the scooter")
    assert deck.say("mara", "undo").first == "Taken back: loan."
    assert "- flooded today, by Ola" in deck.say("mara", "show scooter").lines or deck.say(
        "mara", "show scooter"
    ).lines[0].startswith("- flooded")
    assert (deck.say("mara", "show kit").data["items"], deck.say("ola", "show kit").data["items"]) == (
        ["scooter"],
        [],
    )


def test_nothing_is_lent_to_a_locker_one_is_not_in(deck):
    shared(deck)
    deck.say("ola", "hello")
    assert deck.say("mara", "lend the scooter to Ola").first == "There is no other locker to lend scooter to."


def test_forgetting_brings_home_what_is_lent_and_leaves_other_lockers(deck):
    shared(deck)
    code = code_in(deck.say("ola", "share"))
    deck.say("mara", f"join {code}")
    deck.say("mara", "open my own locker")
    deck.say("mara", "lend the scooter to Ola")
    deck.say("ola", "forget me")
    deck.tap("ola", "Delete it all")
    deck.tap("ola", "Yes, for good")
    assert deck.say("mara", "show kit").data["items"] == ["scooter"]
    assert deck.say("mara", "lockers").offers == ()


def test_only_the_owner_of_a_group_can_have_it_forgotten(deck):
    deck.say("ilka", "add dry suit", group="club")
    assert deck.say("mara", "forget me", group="club").first == "Say that to me in a chat of your own."
    deck.say("ilka", "forget me", group="club")
    assert deck.tap("mara", "Delete it all", group="club").first == "Say that to me in a chat of your own."
    deck.tap("ilka", "Delete it all", group="club")
    assert deck.tap("mara", "Yes, for good", group="club").first == "Say that to me in a chat of your own."
    assert deck.tap("ilka", "Yes, for good", group="club").first.startswith("Everything is deleted.")


def test_edit_puts_right_what_the_message_did_and_logs_nothing_twice(deck):
    deck.say("mara", "add scooter")
    deck.say("mara", "2 dives today, salt", message="m7")
    assert deck.say("mara", "3 dives today, salt", message="m7", edits=True).first.startswith(
        "Corrected. Logged: 3 dives"
    )
    assert deck.say("mara", "show my dives").first == "3 dives logged."
    assert deck.take("mara", text="3 dives today, salt", message="m7", edits=True) is None
    assert deck.say("mara", "undo").first == "Taken back: dive log."
    assert deck.say("mara", "show my dives").first == "0 dives logged."


def test_edit_of_a_message_that_did_nothing_is_a_message(deck):
    deck.say("mara", "qqq xx", message="m7")
    assert deck.say("mara", "2 dives today", message="m7", edits=True).first.startswith("Logged: 2 dives")


def test_edit_by_somebody_else_takes_nothing_back(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("mara", "1 dive today", group="club", message="m7")
    assert deck.take("ilka", "club", text="9 dives today", message="m7", edits=True) is None
    assert deck.take("ilka", "club", message="m7", taken_back=True) is None
    assert deck.say("mara", "show my dives", group="club").first == "1 dive logged."


def test_deleted_message_is_taken_back(deck):
    deck.say("mara", "add scooter")
    deck.say("mara", "2 dives today", message="m7")
    assert (
        deck.take("mara", message="m7", taken_back=True).reply.first
        == "Taken back with your message: dive log."
    )
    assert deck.take("mara", message="m7", taken_back=True) is None
    assert deck.say("mara", "show my dives").first == "0 dives logged."


def test_edit_that_comes_too_late_changes_nothing(deck):
    deck.say("mara", "add scooter")
    deck.say("mara", "2 dives today, salt", message="m7")
    deck.say("mara", "no, that was fresh water")
    said = deck.say("mara", "5 dives today", message="m7", edits=True)
    assert said.first.startswith("I left things as they were")
    assert deck.say("mara", "show my dives").first == "2 dives logged."


def test_place_sets_the_zone(deck):
    assert deck.take("mara", place=(47.37, 8.54)).reply.first.startswith("Noted: zone Europe/Zurich")
    assert deck.take("mara", place=(-36.85, 174.76)).reply.first.startswith("Noted: zone Pacific/Auckland")
    assert deck.take("mara", place=(123.0, 500.0)).reply.first == "I know no time zone for that place."


def test_list_lets_in_only_who_is_on_it(store):
    deck = Deck(store, Access(Mode.LIST, ["boat:mara", "boat:club"]))
    assert deck.say("mara", "add scooter").first == "Added: scooter."
    refused = deck.say("ilka", "add scooter")
    assert (refused.first, refused.lines[1]) == (
        "This bot is not open to everybody.",
        "You are boat:ilka to me.",
    )
    assert deck.say("ilka", "hello", group="club").first.startswith("Tell me what you dived")
    assert deck.say("ilka", f"join {code_in(deck.say('mara', 'share'))}").first == refused.first


def test_invitation_lets_in_who_has_a_code_for_good(store):
    deck = Deck(store, Access(Mode.INVITE, ["boat:mara"]))
    deck.say("mara", "add scooter")
    assert deck.say("ilka", "hello").first == "This bot is not open to everybody."
    code = code_in(deck.say("mara", "share"))
    assert deck.say("ilka", f"join {code}").first.startswith("You are in.")
    assert deck.say("ilka", "leave this locker").first.startswith("You have left")
    assert deck.say("ilka", "add torch").first.startswith("Added: ")
    assert deck.say("ola", "hello", group="club").first == "This bot is not open to everybody."
    deck.say("ilka", "hello", group="club")
    assert deck.say("ola", "hello", group="club").first.startswith("Tell me what you dived")


def test_who_guesses_codes_is_not_listened_to_for_a_while(store):
    deck = Deck(store, Access(Mode.INVITE, ["boat:mara"]))
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    for n in range(5):
        deck.say("ilka", f"join 0000-0000-000{n}")
    assert deck.say("ilka", f"join {code}").first == "This bot is not open to everybody."
    assert deck.say("ola", f"join {code}").first.startswith("You are in.")


def test_reaction_or_deletion_begins_nothing(deck):
    assert deck.take("mara", "club", message="m7", taken_back=True) is None
    assert deck.take("mara", "club", under="m7", meant=Meant.DONE) is None
    deck.say("ilka", "add scooter", group="club")
    assert deck.say("mara", "sold the scooter", group="club").first.startswith("Only Ilka,")


def test_owner_who_leaves_the_group_hands_its_locker_on(deck):
    deck.say("ilka", "add dry suit", group="club")
    for who in ("mara", "ola"):
        deck.say(who, "hello", group="club")
    deck.say("ilka", "who is in", group="club")
    deck.tap("ilka", "Ola: let remove", group="club")
    deck.conversation.parted("boat", "club", "ilka")
    assert deck.say("mara", "sold the dry suit", group="club").first.startswith("Only Ola,")
    assert deck.say("ola", "sold the dry suit", group="club").first.startswith("dry suit is out")


def test_private_chat_stays_private_whoever_is_brought_in(deck):
    deck.say("mara", "add scooter")
    brought = deck.take("ilka", "mara", text="show kit", by_post=True).reply
    assert brought.first == "Mara's locker is open here, and you are not in it."
    deck.conversation.parted("boat", "mara", "mara")
    assert deck.take("ilka", "mara", text="forget me", by_post=True).reply.first.startswith(
        "Mara's locker is open here"
    )
    assert deck.say("mara", "show kit").data["items"] == ["scooter"]


def test_nobody_goes_on_about_the_question_of_another(deck):
    deck.say("ilka", "what goes on the neck ring?", group="club")
    assert "neck" not in deck.say("ola", "can I use silicone?", group="club").first.lower()
    deck.say("ilka", "what goes on the neck ring?", group="club")
    assert "neck" in deck.say("ilka", "can I use silicone?", group="club").first.lower()


@pytest.mark.parametrize(
    "text", ["snooze 60 days", "reminders at 7", "quiet hours 22 to 7", "zone Asia/Tokyo"]
)
def test_member_of_a_group_does_not_set_when_all_are_reminded(deck, text):
    deck.say("ilka", "add dry suit", group="club")
    deck.say("ilka", "1 dive today with the dry suit", group="club")
    assert deck.say("mara", text, group="club").first.startswith("Only Ilka,")


def test_member_sets_the_hours_of_a_chat_of_their_own(deck):
    shared(deck, "ilka")
    assert deck.say("ilka", "zone Asia/Tokyo").first.startswith("Noted: zone Asia/Tokyo")


def test_the_locker_named_is_the_one_that_is_left(deck):
    shared(deck, "ilka")
    deck.say("ola", "hello")
    code = code_in(deck.say("ola", "share"))
    deck.say("ilka", f"join {code}")
    assert deck.say("ilka", "leave Mara's locker").first.startswith("You have left Mara's locker.")
    assert [o.label for o in deck.say("ilka", "my lockers").offers] == ["Open Ola's locker"]


def test_undo_of_somebody_named_takes_nothing_back(deck):
    deck.say("mara", "add scooter", group="club")
    assert deck.say("mara", "undo ilka's dive", group="club").first.startswith("By words I take back only")
    assert deck.say("mara", "show kit", group="club").data["items"] == ["scooter"]


@pytest.mark.parametrize(
    "text",
    [
        "who is in",
        "who's in here",
        "who is in this locker",
        "kick jorun out",
        "remove jorun from the locker",
        "let ilka delete stuff too",
        "which locker am I in",
    ],
)
def test_people_of_a_locker_are_shown_however_one_asks(deck, text):
    deck.say("mara", "add scooter")
    said = deck.say("mara", text).first
    assert said in {"1 person in your own locker.", "Open here: your own locker."}


@pytest.mark.parametrize("say", ["join {} pls", "here's the code {}", "the code is {}", "{}"])
def test_code_is_found_in_what_surrounds_it(deck, say):
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    assert deck.say("ilka", say.format(code.replace("0", "O").lower())).first.startswith("You are in.")


@pytest.mark.parametrize(
    "text", ["lend ola the scooter", "lend the scooter to ola", "gave ola the scooter", "ola has the scooter"]
)
def test_lending_in_the_order_people_say_it(deck, text):
    shared(deck)
    code = code_in(deck.say("ola", "share"))
    deck.say("mara", f"join {code}")
    deck.say("mara", "open my own locker")
    assert deck.say("mara", text).first == "Lent: scooter to Ola's locker."
    assert deck.say("mara", "got the scooter back from ola").first == "Back in your own locker: scooter."


def test_who_was_taken_out_changes_nothing_any_more(deck):
    shared(deck, "ilka")
    deck.say("ilka", "2 dives today with the scooter", message="m7")
    deck.say("mara", "who is in")
    deck.tap("mara", "Ilka: out")
    assert deck.take("ilka", message="m7", taken_back=True).reply.first.startswith(
        "I left things as they were"
    )
    assert deck.say("ilka", "9 dives today", message="m7", edits=True).first.startswith(
        "I left things as they were"
    )
    assert deck.say("ilka", "undo").first == "You are no longer in that locker."
    assert deck.say("mara", "show my dives").first == "2 dives logged."


def test_return_of_a_lent_item_is_not_taken_back(deck):
    shared(deck)
    code = code_in(deck.say("ola", "share"))
    deck.say("mara", f"join {code}")
    deck.say("mara", "open my own locker")
    deck.say("mara", "lend the scooter to Ola")
    deck.say("ola", "the scooter is back")
    deck.say("mara", "rinsed the scooter")
    assert not deck.say("ola", "undo").first.startswith("Taken back")
    assert deck.say("mara", "show kit").data["items"] == ["scooter"]


def test_code_is_judged_by_when_it_comes_not_by_when_it_says_it_was_written(deck):
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    late = deck.now + timedelta(days=20)
    assert deck.say("ilka", f"join {code}", received=late).data["done"] is False


def test_words_of_a_button_typed_speak_of_its_locker(deck):
    shared(deck, "ilka")
    deck.say("ilka", "open my own locker")
    deck.say("ilka", "add torch")
    deck.say("ilka", "show kit")
    deck.say("mara", "hello")
    shown = deck.store.read(lambda s: s.connection().exec_driver_sql("SELECT count(*) FROM button").scalar())
    deck.store.write(
        lambda s: s.connection().exec_driver_sql("UPDATE chat SET open_id = 1 WHERE address = 'ilka'")
    )
    assert shown
    assert deck.say("ilka", "1").data["item"] == deck.answers["ilka"].reply.data["item"]
    assert "torch" in deck.answers["ilka"].reply.first or "light" in deck.answers["ilka"].reply.first


def test_wishes_said_in_anothers_locker_plan_ones_own_reminders(deck):
    shared(deck, "ilka")
    deck.say("ilka", "open my own locker")
    deck.say("ilka", "add dry suit")
    deck.say("ilka", "1 dive today")
    deck.say("ilka", "reminders off")
    deck.say("ilka", "open Mara's locker")
    deck.say("ilka", "reminders on")
    own = "SELECT count(*) FROM care_task t JOIN chat c ON c.locker_id = t.locker_id WHERE c.address = 'ilka' AND t.notify_at IS NOT NULL"
    assert deck.store.read(lambda s: s.connection().exec_driver_sql(own).scalar()) > 0


def test_owner_who_forgets_in_private_leaves_the_group_to_the_next(deck):
    deck.say("mara", "add scooter", group="club")
    deck.say("ilka", "hello", group="club")
    deck.say("mara", "forget me")
    deck.tap("mara", "Delete it all")
    deck.tap("mara", "Yes, for good")
    assert deck.say("ilka", "sold the scooter", group="club").first.startswith("scooter is out")


def test_stranger_has_no_file_read(store):
    deck = Deck(store, Access(Mode.LIST, ["boat:mara"]))
    assert (
        deck.take("ilka", file=("log.uddf", b"<broken")).reply.first == "This bot is not open to everybody."
    )


def test_who_was_taken_out_is_not_admitted_any_more(store):
    deck = Deck(store, Access(Mode.INVITE, ["boat:mara"]))
    deck.say("mara", "add scooter")
    code = code_in(deck.say("mara", "share"))
    deck.say("ilka", f"join {code}")
    deck.say("mara", "who is in")
    deck.tap("mara", "Ilka: out")
    assert deck.say("ilka", "hello").first == "This bot is not open to everybody."
