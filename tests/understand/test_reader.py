"""From a text to an intent: answers to buttons, corrections, questions, wishes, commands; and the fields of the contract."""

from datetime import date, time

import pytest

from bot.advice.question import About, Question
from bot.understand.in_passing import understand_question
from bot.understand.intents import (
    AddItem,
    Ask,
    Export,
    ForgetMe,
    Help,
    ImportDives,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RetireItem,
    SetPreference,
    ShareLocker,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
)
from bot.understand.reader import Context, Offer, understand
from store.catalogue import ItemFacts
from store.vocabulary import (
    Condition,
    ItemKind,
    Region,
    SealMaterial,
    Substance,
    Task,
    Units,
    Water,
    ZipMaterial,
)

TODAY = date(2026, 6, 10)


def read(text, *offers, names=(), last=None):
    return understand(text, TODAY, Context(offers=offers, names=names, last=last))


# answers to the buttons of the last message

PLASTIC = Offer("plastic", AddItem(item_id=1, facts=ItemFacts(zip_material=ZipMaterial.PLASTIC)))
METAL = Offer("metal", AddItem(item_id=1, facts=ItemFacts(zip_material=ZipMaterial.METAL)))
SKIP = Offer("don't know", AddItem(item_id=1, skip_ids=("zip_material",)))
ZIP = (PLASTIC, METAL, SKIP)


@pytest.mark.parametrize(
    ("said", "offer"),
    [
        ("1", PLASTIC),
        ("2", METAL),
        ("3", SKIP),
        (" 2 ", METAL),
        ("２", METAL),
        ("②", METAL),
        ("plastic", PLASTIC),
        ("Metal", METAL),
        ("METAL!", METAL),
        ("metal.", METAL),
        ("Don’t know", SKIP),
        ("plasitc", PLASTIC),
        ("plastik", PLASTIC),
        ("metall", METAL),
        ("metl", METAL),
        ("dont know", SKIP),
        ("it is metal", METAL),
    ],
)
def test_choice_by_number_label_or_misspelt_label(said, offer):
    assert read(said, *ZIP) == offer.intent


@pytest.mark.parametrize("said", ["0", "4", "99", "-1", "1.5", "xyzzy", "both", "rubber"])
def test_answer_that_names_no_choice_is_misunderstood(said):
    assert isinstance(read(said, *ZIP), Misunderstood)


@pytest.mark.parametrize("said", ["1", "metal", "plastic", "Done"])
def test_choice_without_buttons_is_none(said):
    assert isinstance(read(said), Misunderstood)


@pytest.mark.parametrize(
    ("said", "intent"),
    [
        ("2 dives today", LogDive(dives=2, on=TODAY)),
        ("undo", Undo()),
        ("help", Help()),
        ("show kit", ShowKit()),
        ("what is due?", ShowDue()),
    ],
)
def test_whole_message_goes_before_the_buttons(said, intent):
    assert read(said, *ZIP) == intent


DONE = Offer("Done", RecordCare(task_ids=(1, 2, 3)))


@pytest.mark.parametrize(
    "said", ["not done", "not done yet", "I have not done it", "nothing done", "is it done?"]
)
def test_denial_does_not_tap_done(said):
    assert read(said, DONE, Offer("Later", Snooze(task_ids=(1, 2, 3), days=1))) != DONE.intent


DELETE = (Offer("Delete it all", ForgetMe(confirmed=True)), Offer("Keep it", ShowKit()))


@pytest.mark.parametrize("said", ["1", "delete it all", "Delete it all."])
def test_deletion_is_confirmed_by_its_whole_label(said):
    assert read(said, *DELETE) == ForgetMe(confirmed=True)


SURE = (Offer("Yes, for good", ForgetMe(confirmed=True, sure=True)), Offer("Keep it", ShowKit()))
REPLACE = (
    Offer("Replace what is here", ImportDives(import_id=1, replaces=True)),
    Offer("Drop it", ImportDives(import_id=1, drops=True)),
)


@pytest.mark.parametrize("said", ["yes", "yes please", "for good", "sure", "ok", "do it", "yes for goods"])
def test_the_second_confirmation_wants_its_whole_label_too(said):
    assert read(said, *SURE) != SURE[0].intent
    assert read("yes, for good", *SURE) == SURE[0].intent


@pytest.mark.parametrize("said", ["yes", "replace", "replace it", "what is here", "go ahead"])
def test_a_locker_is_not_replaced_by_a_yes(said):
    assert read(said, *REPLACE) != REPLACE[0].intent


@pytest.mark.parametrize("said", ["all", "delete", "do not delete it all", "don't delete"])
def test_deletion_is_not_confirmed_by_part_of_its_label(said):
    assert read(said, *DELETE) != ForgetMe(confirmed=True)


@pytest.mark.parametrize(
    "text", ["forget me", "delete everything", "erase all my data", "/forget", "wipe my account"]
)
def test_text_alone_never_confirms_a_deletion(text):
    assert read(text) == ForgetMe(confirmed=False)


def test_why_repeats_the_last_question():
    last = understand_question("what goes on the neck ring?", TODAY)
    assert isinstance(last, Ask)
    wanted = Ask(question=last.question.model_copy(update={"about": About.WHY}), said=last.said)
    assert [read(text, last=last) for text in ("why", "why?", "but why?", "Why is that?")] == [wanted] * 4
    assert isinstance(read("why", last=Undo()), Misunderstood)
    assert isinstance(read("why"), Misunderstood)


# corrections


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("no, that was fresh water", {"water": Water.FRESH}),
        ("no, not salt, fresh", {"water": Water.FRESH}),
        ("no, it was 3 dives", {"dives": 3}),
        ("make it 4 dives", {"dives": 4}),
        ("actually 28 m", {"max_depth_m": 28.0}),
        ("sorry, 100 ft", {"max_depth_m": 30.5}),
        ("wrong, yesterday", {"on": date(2026, 6, 9)}),
        ("it was 50 min each", {"duration_min": 50}),
        ("oops, 6 degrees", {"min_temp_c": 6.0}),
        ("I meant 32%", {"o2_fraction": 0.32}),
        ("correction: silty", {"conditions": (Condition.SILT,)}),
    ],
)
def test_correction_holds_only_what_was_said(text, fields):
    assert read(text) == LogDive(corrects=True, **fields)


@pytest.mark.parametrize("text", ["no", "nope", "sorry", "actually", "wait", "oops", "wrong"])
def test_correction_of_nothing_corrects_nothing(text):
    assert not isinstance(read(text), LogDive)


# dives


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("2 dives today, salt", {"dives": 2, "on": TODAY, "water": Water.SALT}),
        ("dived yesterday in the lake", {"on": date(2026, 6, 9), "water": Water.FRESH}),
        (
            "3 dives on 6 June in the sea, 100 ft, 50 f, 45 min each, sandy, 32%",
            {
                "dives": 3,
                "on": date(2026, 6, 6),
                "water": Water.SALT,
                "max_depth_m": 30.5,
                "min_temp_c": 10.0,
                "duration_min": 45,
                "conditions": (Condition.SAND,),
                "o2_fraction": 0.32,
            },
        ),
        (
            "one dive in the pool today, 1h10",
            {"dives": 1, "on": TODAY, "water": Water.POOL, "duration_min": 70},
        ),
        ("2 dives, 20 m, 1 h, no sand", {"dives": 2, "max_depth_m": 20.0, "duration_min": 60}),
        ("2 dives today with the scooter", {"dives": 2, "on": TODAY, "items": ("scooter",)}),
        ("2 dives today without the scooter", {"dives": 2, "on": TODAY, "without": ("scooter",)}),
    ],
)
def test_dive_holds_what_was_said(text, fields):
    assert read(text) == LogDive(**fields)


def test_dive_names_items_by_the_divers_own_names():
    assert read("2 dives today with Nessie", names=("Nessie", "Otter")).items == ("Nessie",)
    assert read("2 dives today with Nessieland", names=("Nessie",)).items == ()


QUESTIONS = [
    "how deep can I take my light?",
    "are 4 dives in one day too many?",
    "is silicone grease ok for 3 dives a day?",
    "can I use my regulator in fresh water at 4 degrees?",
    "how many dives did I do?",
    "what is due after 2 dives?",
    "is a dive of 30 m ok for my light?",
    "how often do I service the regulator, every 100 dives?",
]


@pytest.mark.parametrize("text", QUESTIONS)
def test_question_never_logs_a_dive(text):
    assert not isinstance(read(text), LogDive)
    assert isinstance(understand_question(text, TODAY), Ask | Misunderstood)


@pytest.mark.parametrize(
    "text",
    [
        "did I log 2 dives today?",
        "did I dive yesterday?",
        "can I dive to 30 m with 32%?",
        "should I do 2 dives today in the sea?",
        "was the dive yesterday 30 m?",
        "what do I do after 2 dives in salt water?",
        "what should I rinse after a dive in the pool?",
        "is it ok to dive in ice?",
    ],
)
def test_question_about_a_dive_never_logs_one(text):
    assert not isinstance(read(text), LogDive)


# wishes


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("zone Europe/Berlin", {"zone": "Europe/Berlin"}),
        ("my time zone is America/New_York", {"zone": "America/New_York"}),
        ("Europe/Berlin", {"zone": "Europe/Berlin"}),
        ("zone europe/berlin", {"zone": "Europe/Berlin"}),
        ("zone UTC", {"zone": "UTC"}),
        ("time zone America/Argentina/Buenos_Aires", {"zone": "America/Argentina/Buenos_Aires"}),
        ("reminders at 18:00", {"digest_at": time(18)}),
        ("reminders at 7 pm", {"digest_at": time(19)}),
        ("reminders at 12 am", {"digest_at": time(0)}),
        ("daily summary at 6:30", {"digest_at": time(6, 30)}),
        ("quiet hours 22 to 7", {"quiet_from": time(22), "quiet_to": time(7)}),
        ("quiet hours 22:30 to 06:15", {"quiet_from": time(22, 30), "quiet_to": time(6, 15)}),
        ("no messages from 10 pm until 8 am", {"quiet_from": time(22), "quiet_to": time(8)}),
        ("quiet hours 24 to 7", {"quiet_from": time(0), "quiet_to": time(7)}),
        ("units imperial", {"units": Units.IMPERIAL}),
        ("use feet", {"units": Units.IMPERIAL}),
        ("switch to metric", {"units": Units.METRIC}),
        ("I live in Germany", {"region": Region.GERMANY}),
        ("I am in the UK", {"region": Region.UK}),
        ("I live in France", {"region": Region.EU}),
        ("country: new zealand", {"region": Region.NEW_ZEALAND}),
    ],
)
def test_preference_is_read(text, fields):
    assert read(text) == SetPreference(**fields)


# commands


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        ("/start", Help()),
        ("/help", Help()),
        ("/due", ShowDue()),
        ("/kit", ShowKit()),
        ("/undo", Undo()),
        ("/export", Export()),
        ("/forget", ForgetMe()),
        ("/share", ShareLocker()),
        ("/due@rinse_bot", ShowDue()),
        ("/DUE", ShowDue()),
        ("/zone Europe/Berlin", SetPreference(zone="Europe/Berlin")),
        ("/add scooter", AddItem(kind=ItemKind.SCOOTER)),
        ("/add", AddItem()),
        ("/snooze for 3 days", Snooze(days=3)),
        ("/log 2 dives today", LogDive(dives=2, on=TODAY)),
    ],
)
def test_slash_command_is_read(text, intent):
    assert read(text) == intent


@pytest.mark.parametrize("text", ["/", "//", "/frobnicate", "/ due ", "/123", "/@bot", "/" * 500])
def test_slash_without_a_command_is_misunderstood(text):
    assert isinstance(read(text), Misunderstood | ShowDue)
    assert not isinstance(read(text), ForgetMe | Undo | LogDive)


# one of each


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        ("hello", Help()),
        ("scratch that", Undo()),
        ("export my data", Export()),
        ("share my locker", ShareLocker()),
        (
            "add dry suit, plastic zip, latex seals",
            AddItem(
                kind=ItemKind.DRY_SUIT,
                facts=ItemFacts(zip_material=ZipMaterial.PLASTIC, seal_material=SealMaterial.LATEX),
            ),
        ),
        ("add scooter called Otter", AddItem(kind=ItemKind.SCOOTER, name="Otter")),
        ("sold the scooter", RetireItem(item="scooter")),
        ("show scooter", ShowKit(item="scooter")),
        ("snooze for a week", Snooze(days=7)),
        ("snooze until friday", Snooze(until=date(2026, 6, 12))),
        ("remind me in 3 weeks", Snooze(days=21)),
        (
            "trip 12 to 19 December, 14 dives, salt, 4 to 8 degrees",
            PlanTrip(
                from_on=date(2026, 12, 12),
                to_on=date(2026, 12, 19),
                dives=14,
                water=Water.SALT,
                min_temp_c=4,
                max_temp_c=8,
            ),
        ),
    ],
)
def test_message_is_read(text, intent):
    assert read(text) == intent


def test_care_holds_task_substance_and_day():
    found = read("greased the scooter hull rings with silicone grease yesterday")
    assert isinstance(found, RecordCare)
    assert (found.task, found.item, found.substance, found.on) == (
        Task.LUBRICATE,
        "scooter",
        Substance.SILICONE_GREASE,
        date(2026, 6, 9),
    )


def test_question_holds_part_substance_and_facts():
    found = read("can I use silicone grease on the neck ring of my 50 % bottle?")
    assert isinstance(found, Ask)
    assert found.said == "can I use silicone grease on the neck ring of my 50 % bottle?"
    assert found.fields() == {
        "about": "can",
        "part": "neck_ring",
        "item": "cylinder",
        "substance": "silicone_grease",
        "kind": "o_ring",
        "o2_fraction": 0.5,
    }


CONTRACT = {
    "2 dives today": "dives on water max_depth_m duration_min min_temp_c o2_fraction conditions items",
    "what goes on the neck ring?": "about part substance",
    "rinsed the dry suit": "task item part substance on",
    "snooze for 3 days": "until days",
    "trip 12 to 19 December": "from to dives water min_temp_c max_temp_c",
}


@pytest.mark.parametrize("text", CONTRACT)
def test_fields_of_the_contract_are_there(text):
    fields = read(text).fields()
    assert [name for name in CONTRACT[text].split() if name not in fields] == []


def test_question_of_nothing_known_names_what_would_work():
    assert understand_question("xyzzy", TODAY) == Misunderstood(
        problem="I know no part or lubricant by those words.",
        suggestions=("what do I put on the neck ring?",),
    )


def test_question_without_a_part_is_a_question():
    assert understand_question("grease", TODAY) == Ask(question=Question(about=About.WHAT), said="grease")


# what goes wrong today


@pytest.mark.parametrize(
    ("text", "days"),
    [("snooze 3 days", 3), ("snooze 2 weeks", 14), ("snooze a week", 7), ("postpone 10 days", 10)],
)
def test_snooze_without_for_is_as_long_as_said(text, days):
    assert read(text) == Snooze(days=days)


def test_name_after_a_letter_that_folds_to_two_is_kept_whole():
    assert read("add scooter in weiß called Otter").name == "Otter"
    assert read("add scooter called Weißer Hai").name == "Weißer Hai"
