"""Text as it is compared: what makes no difference, and what does."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exams.patients.matching import key, name_key, one_slip_apart, searchable, squeezed, telephone_key, words


@pytest.mark.parametrize(
    ("typed", "compared"),
    [
        ("Zoë", ("zoe",)),
        ("O'Brien", ("o", "brien")),
        ("Smith-Jones", ("smith", "jones")),
        ("ÅSA Ødegård", ("asa", "odegard")),
        ("Weiß", ("weiss",)),
        ("İpek", ("ipek",)),
        ("Łucja", ("lucja",)),
        ("943-476 59.19", ("943", "476", "59", "19")),
        ("Ελένη", ("ελενη",)),
        ("١٢٣", ("١٢٣",)),
        ("—  ’ \x00", ()),
    ],
)
def test_accents_case_and_punctuation_make_no_difference(typed, compared):
    assert words(typed) == compared


@given(st.text())
def test_comparing_what_is_already_compared_changes_nothing(text):
    assert words(" ".join(words(text))) == words(text)


@given(st.text(max_size=40))
def test_composed_and_decomposed_accents_are_the_same(text):
    assert words(unicodedata.normalize("NFD", text)) == words(unicodedata.normalize("NFC", text))


@given(st.text(), st.text())
def test_every_word_and_every_squeezed_text_stands_in_the_searched_line(first, second):
    line = searchable(first, second)

    assert all(word in line for word in (*words(first), *words(second), squeezed(first), squeezed(second)))


@given(st.text(max_size=90), st.text(max_size=90))
def test_names_changed_about_have_one_key_that_fits_its_column(family, given_name):
    assert name_key(family, given_name) == name_key(given_name, family)
    assert len(name_key(family, given_name)) <= 200


@given(st.text(max_size=500))
def test_a_key_fits_its_column(text):
    assert len(key(text)) <= 200


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("marsh", "marsh"),
        ("marsh", "mash"),
        ("marsh", "marsch"),
        ("marsh", "mersh"),
        ("marsh", "mrash"),
        ("anne", "ann"),
    ],
)
def test_one_slip_is_a_letter_more_less_other_or_two_swapped(one, other):
    assert one_slip_apart(one, other)
    assert one_slip_apart(other, one)


@pytest.mark.parametrize(
    ("one", "other"), [("marsh", "marks"), ("marsh", "harms"), ("li", "lo"), ("", "a"), ("marsh", "marshes")]
)
def test_two_slips_or_a_very_short_name_are_another_name(one, other):
    assert not one_slip_apart(one, other)


@given(st.text(alphabet="abcdef", min_size=3, max_size=9), st.data())
def test_leaving_out_any_one_letter_is_one_slip(word, data):
    at = data.draw(st.integers(0, len(word) - 1))
    shorter = word[:at] + word[at + 1 :]

    assert one_slip_apart(word, shorter) == (len(shorter) >= 3)


@pytest.mark.parametrize("typed", ["01632 960001", "+44 1632 960 001", "(01632) 960-001", "0044-1632-960001"])
def test_a_telephone_is_compared_by_its_last_nine_figures(typed):
    assert telephone_key(typed) == "632960001"


@pytest.mark.parametrize("typed", ["", "ext. 12", "none"])
def test_too_few_figures_are_no_telephone_to_compare(typed):
    assert telephone_key(typed) == ""


@given(st.text())
def test_no_text_breaks_the_telephone_key(text):
    assert len(telephone_key(text)) <= 9
