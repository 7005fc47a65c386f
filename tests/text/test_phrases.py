"""Lists and counts in a sentence."""

from beadworth.text import capital, count, join_words, quoted, value_text


def test_a_list_has_one_and_before_its_last():
    assert [join_words("abc"[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert join_words(["a", "b"], "or") == "a or b"


def test_a_count_agrees_with_its_noun():
    assert [count(n, "coupon") for n in (0, 1, 2)] == ["0 coupons", "1 coupon", "2 coupons"]
    assert count(2, "entry", "entries") == "2 entries"


def test_a_capital_leaves_the_rest_as_it_is():
    assert [capital(text) for text in ("", "pLA", "é")] == ["", "PLA", "É"]


def test_what_somebody_typed_is_quoted_on_one_line_and_cut_short():
    assert quoted("  5,2 g\n") == "'5,2 g'"
    assert quoted("a\x1b\tb") == "'a��b'"
    assert [quoted("x" * n, 5) for n in (5, 6)] == ["'xxxxx'", "'xxxxx…'"]


def test_a_value_of_a_record_is_read_as_a_person_would_write_it():
    values = (None, True, False, -0.5, 80.12346, 12, "belt")
    said = ["not recorded", "yes", "no", "−0.5", "80.1235", "12", "belt"]
    assert [value_text(value) for value in values] == said
