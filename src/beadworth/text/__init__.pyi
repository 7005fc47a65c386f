from .durations import duration, moment
from .encoding import ascii_line, xml_text
from .names import name_problem
from .numbers import (
    NO_BREAK,
    UNKNOWN,
    fixed,
    flow_decimals,
    grams,
    number,
    percent,
    signed,
    signed_percent,
    with_unit,
)
from .parse import ambiguity, parse_number, parse_numbers, whole_number
from .phrases import capital, count, join_words, quoted, value_text
from .private import LEFT_OUT, PrivatePart, private_parts, without_private
from .slugs import distinct_slug, next_free, slug
from .spreadsheet import disarmed, rearmed

__all__ = [
    "LEFT_OUT",
    "NO_BREAK",
    "UNKNOWN",
    "PrivatePart",
    "ambiguity",
    "ascii_line",
    "capital",
    "count",
    "disarmed",
    "distinct_slug",
    "duration",
    "fixed",
    "flow_decimals",
    "grams",
    "join_words",
    "moment",
    "name_problem",
    "next_free",
    "number",
    "parse_number",
    "parse_numbers",
    "percent",
    "private_parts",
    "quoted",
    "rearmed",
    "signed",
    "signed_percent",
    "slug",
    "value_text",
    "whole_number",
    "with_unit",
    "without_private",
    "xml_text",
]
