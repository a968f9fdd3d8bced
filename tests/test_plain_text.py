"""Nothing unseen is left, what is seen stays, and a JSON text stays one."""

import json

from hypothesis import given
from hypothesis import strategies as st

from tanksolve.plain_text import clean, is_plain, shortened


@given(st.text(alphabet=st.characters(codec=None), max_size=30))
def test_a_cleaned_text_is_clean_and_json_reads_it_back(text):
    quoted = json.dumps(text, ensure_ascii=False)
    cleaned = clean(quoted)
    assert clean(cleaned) == cleaned
    assert cleaned.isprintable() or set("\t\n").intersection(cleaned) or not text.isprintable()
    assert json.loads(cleaned) == json.loads(quoted)


def test_what_moves_the_cursor_or_turns_the_reading_becomes_an_escape():
    assert clean("a\x1b[2Jb\x9b\u202ec\U000e0041") == "a\\u001b[2Jb\\u009b\\u202ec\\udb40\\udc41"
    assert clean("900 × 300 mm, 15°, naïve\n\t日本") == "900 × 300 mm, 15°, naïve\n\t日本"
    assert not is_plain("a\nb")
    assert is_plain("Öltank 2")


def test_a_long_text_says_how_much_is_left_out():
    assert shortened("x" * 400) == "x" * 400
    told = shortened("x" * 20_000)
    assert len(told) < 420
    assert "19,634 characters left out" in told
    assert shortened("\n".join("abc" * 100)).count("\n") == 59
