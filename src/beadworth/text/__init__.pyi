from .durations import duration
from .encoding import ascii_line, xml_text
from .numbers import NO_BREAK, UNKNOWN, fixed, grams, number, percent, signed, signed_percent
from .parse import ambiguity, parse_number, parse_numbers
from .phrases import capital, count, join_words, quoted, value_text
from .slugs import distinct_slug, next_free, slug

__all__ = [
    "NO_BREAK",
    "UNKNOWN",
    "ambiguity",
    "ascii_line",
    "capital",
    "count",
    "distinct_slug",
    "duration",
    "fixed",
    "grams",
    "join_words",
    "next_free",
    "number",
    "parse_number",
    "parse_numbers",
    "percent",
    "quoted",
    "signed",
    "signed_percent",
    "slug",
    "value_text",
    "xml_text",
]
