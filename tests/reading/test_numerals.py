"""Numbers as they are dictated."""

import pytest

from bot.reading.numerals import in_figures


@pytest.mark.parametrize(
    ("words", "figures"),
    [
        ("a hundred and eighteen feet", "118 feet"),
        ("one forty five", "145"),
        ("thirty one and twenty two metres", "31 and 22 metres"),
        ("forty-four metres", "44 metres"),
        ("two hundred and five", "205"),
        ("seven", "7"),
    ],
)
def test_number_in_words_is_one_in_figures(words, figures):
    assert in_figures(words) == figures


def test_two_numbers_stay_two():
    assert in_figures("second one one fifty").split()[-1] == "150"
