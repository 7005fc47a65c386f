"""The reference and the scanner say the same: every word, its letters, every problem."""

import re
from pathlib import Path

import pytest
from gcode_compare import scan

from beadworth.gcode.problems import KINDS

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "gcode.md").read_text()
WORD = re.compile(r"\b[GM]\d+(?:\.\d)?\b")
LETTERS = "ABCDEFHIJKLNOPQRSTUVWXYZ"
SHARED = set("NOFTSXYZE")  # may share the line of a command


def rows(begin, end):
    """The rows of the table between two marks, as cells."""
    part = PAGE[PAGE.index(begin) : PAGE.index(end)]
    return [
        [cell.strip() for cell in line.strip("| ").split("|")]
        for line in part.splitlines()
        if line.startswith("| ") and not line.startswith(("| ---", "| word"))
    ]


READ = rows("## Words", "Everything else is counted")
CARE = rows("Everything else is counted", "A name in place of")
WORDS = {word: row for row in READ for word in WORD.findall(row[0])}
CAREFUL = {word: row for row in CARE for word in WORD.findall(row[0])}


def unknown(text):
    return {word.word for word in scan(f"G94\n{text}\n".encode())[1].unknown_words}


def test_every_word_the_scanner_reads_is_in_the_table_and_every_row_is_read():
    # a line each, with a letter no command takes, so that no line is passed over
    every = [f"{letter}{tenths / 10:g}" for letter in "GM" for tenths in range(10_000)]
    read = set()
    for begin in range(0, len(every), 150):  # the table of unknown words holds 200
        for end in ("M2", "M30"):  # nothing is read behind the end of a program
            some = [word for word in every[begin : begin + 150] if word != end]
            some.sort(key=lambda word: word in ("M2", "M30"))
            read |= set(some) - unknown("\n".join(some))
    assert read == set(WORDS)


@pytest.mark.parametrize("word", WORDS)
def test_the_letters_of_a_word_are_those_documented(word):
    told = WORDS[word][2]
    taken = {
        letter for letter in LETTERS if f"{letter} on {word}" not in unknown(f"{word} {letter}1")
    }
    if told in ("any", "text"):
        assert taken == set(LETTERS)
        return
    own = set(told.split())
    assert own - {"F"} <= taken  # F is read on every line of motion
    assert taken - SHARED <= own


@pytest.mark.parametrize("word", CAREFUL)
def test_a_word_read_with_care_is_counted_as_unknown(word):
    assert word in unknown(word)
    if word.startswith("M"):
        assert unknown(f"{word} 5.gco X3 Y4") == {word}
    elif "motion" in CAREFUL[word][1]:
        _, seen = scan(f"G1 X1 F60\n{word} X2\nX3\n".encode())
        assert (seen.moves, seen.problem_counts) == (1, {"no-motion": 1})
    else:
        assert unknown(f"G1 X1 F60\n{word} H1 D2\n") == {word}


@pytest.mark.parametrize("letter", LETTERS)
def test_a_letter_on_its_own_is_read_where_the_table_says_so(letter):
    alone = {
        name for row in READ for name in re.findall(r"(?<![A-Za-z])[A-Z](?![A-Za-z\d])", row[0])
    }
    assert (letter not in unknown(f"{letter}5")) == (letter in alone)


def test_the_rule_for_e_beside_g90():
    def modes(follow, *lines):
        text = "G1 F600\n" + "\n".join(lines) + "\nG1 E2\nG1 E3\n"
        return scan(text.encode(), follow=follow)[1].filament_net_mm

    for words, left_alone, follows in [
        (["G91"], 3, 5), (["M83"], 5, 5), (["M83", "G90"], 5, 3), (["G91", "M82"], 3, 3),
        (["M82 G91"], 3, 3), (["G91 M82"], 3, 3), (["M83 G90"], 5, 5), (["M83", "G91"], 5, 5),
    ]:  # fmt: skip
        assert modes(False, *words) == left_alone, words
        assert modes(True, *words) == follows, words


def test_every_problem_kind_is_documented_in_its_own_words():
    for kind, (message, remedy) in KINDS.items():
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{kind}` |"))
        assert message in row
        assert remedy in row
