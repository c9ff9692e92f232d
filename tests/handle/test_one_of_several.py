"""Of several alike the one is found that is broken, that is told apart, or any where it does not matter; of some never all."""


def test_what_mends_was_done_to_the_one_that_is_broken(talk):
    talk.say("add 2 wings")
    talk.say("the second wing, buoyancy device 2, leaks")
    talk.say("buoyancy device 2 is leaking")
    assert "buoyancy device 2" in talk.say("technician serviced the wing today").first


def test_any_of_some_that_are_alike_may_be_the_one_that_broke(talk):
    talk.say("add 3 strobes")
    said = talk.say("one strobe flooded today")
    assert "which" not in said.first.casefold()
    assert "flooded" in said.first


def test_two_of_three_are_not_all_of_them(talk):
    talk.say("add 3 strobes")
    assert "which" in talk.say("rinsed 2 strobes").first.casefold()


def test_care_is_never_noted_of_a_day_ahead(talk):
    talk.say("add wing")
    assert "ahead" in talk.say("serviced the wing tomorrow").first
