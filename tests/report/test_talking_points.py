"""Talking points: five numbers with their intervals in words, what was not tested, who paid."""

from __future__ import annotations

import dataclasses
import re

import pytest
from markdown_it import MarkdownIt

from beadworth.report.points import not_tested, talking_points
from beadworth.report.summary import headlines


def test_five_numbers_each_with_its_interval(report_data):
    said = talking_points(report_data)
    numbers = re.findall(r"^\d\. .*$", said, flags=re.M)
    assert len(numbers) == 5
    for line, headline in zip(numbers, headlines(report_data), strict=True):
        low, _, high = headline.beside.partition(" to ")
        assert headline.value in line
        assert low in line
        assert high in line


def test_it_says_what_was_not_tested_the_cautions_and_who_paid(report_data):
    said = talking_points(report_data)
    for words in ("Any filament but PLA, chalk white", "Below 210\u00a0°C and above 230\u00a0°C",
                  "Any nozzle but 0.4\u00a0mm", "over months", "Hot parts.", "Never unattended",
                  "bought by the workshop at full price", "**SIMULATED.**"):  # fmt: skip
        assert words in said, words


def test_the_notes_of_a_comparison_are_said_aloud(report_data):
    noted = dataclasses.replace(report_data, comparison_notes=("long: the drive may be slipping.",))
    said = talking_points(noted)
    assert "## What to know of the difference\n\n- long: the drive may be slipping." in said
    assert "## What to know of the difference" not in talking_points(report_data)


def test_an_open_ceiling_is_named_as_not_reached(report_data):
    first = report_data.ceilings[0]
    open_one = dataclasses.replace(first, flow_mm3_s=None, low=21.0, high=None, bound="at-least")
    data = dataclasses.replace(report_data, ceilings=(open_one,), differences=())
    assert any("Flows above 21\u00a0mm³/s" in line for line in not_tested(data))


@pytest.mark.parametrize("word", ["# head", "**b**", "<script>", "[a](b)", "a\n# b", "|x|", "`c`"])
def test_typed_words_are_never_markdown(word, report_data):
    data = dataclasses.replace(report_data, question=word, disclosure=word)
    made = MarkdownIt("commonmark").render(talking_points(data))
    plain = MarkdownIt("commonmark").render(talking_points(report_data))
    for tag in ("<h1>", "<h2>", "<a ", "<script", "<code>", "<strong>"):
        assert made.count(tag) == plain.count(tag), tag
