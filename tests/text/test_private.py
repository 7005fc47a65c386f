"""What looks private is seen wherever it stands; what measuring and G-code write is not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import LEFT_OUT, private_parts, without_private

SEEN = {
    "path": (
        "/home/jo/bench/tern.toml", "C:\\Users\\jo\\tern.toml", "C:\\Users\\Jo Doe\\tern.toml",
        "D:/prints/part.gcode", "~/bench/tern.toml", "~jo/x", "file:///srv/x", "\\\\nas\\jo\\tern",
        "/srv/x", "./notes.txt", "../old/a.csv", "prints/part.gcode", "Prints\\2031\\part.gcode",
    ),
    "e-mail": ("jo@example.org", "jo.doe+bench@mail.example.co"),
    "phone": (
        "+49 171 5550123", "+44 20 7946 0000", "0049 171 5550123", "020 7946 0000", "01632 960 123",
        "(555) 012-3456", "0171/5550123", "+1-202-555-0143", "tel. 555 0123", "phone: 5550123",
    ),
    "host": (
        "192.168.1.20", "10.0.0.5", "172.16.0.3:8642", "8.8.8.8:53", "http://192.168.1.20:8642/x",
        "http://printer/", "https://localhost/x", "localhost:8642", "nas.local", "shed.lan:80",
        "fe80::1", "2001:db8::1", "aa:bb:cc:dd:ee:ff", "ssh://jo@nas/x", "smb://nas/prints",
    ),
}  # fmt: skip
NOT_SEEN = (
    "flows 20/30 mm³/s", "0.4/0.6/0.8 nozzles", "210/220/230 °C", "~20/30", "a 3/4 inch", "w:/h",
    "mm3/s", "/mm/s", "g/(m·K)", "kg/m3", "600 mm/s²", "at 4.5 mm/s, 0.2 mm/layer", "and/or",
    "2031-04-02", "02/04/2031", "02.04.2031 12:30", "batch 2031/04/02", "12:30:45", "2031:04:02",
    "G1 X10.5 Y-3.2 E0.04 F1800", "M104 S210 ; N0123*45", "G92 E0 ; A10", "M117 20/30",
    "20:6:2", "8..22", "8, 10, 12", "80 30=30.1 75=75.2 150=150.3", "N2/O2", "20 mm3/s@210.5",
    "5@210.5 C", "1 234 567.89", "+12 000 000", "+0.02 to +300", "100 200 300 400", "0 100 200 300",
    "https://example.org/a/b.csv", "https://doi.org/10.18434/M32189", "doi:10.18434/M32189",
    "10.1016/0032-3861(90)90015-X", "doi: 10.1000/home/x.pdf", "www.example.org/home/x.csv",
    "8.4.5.1 and 6.3.2.2", "10.4.5.1", "version 2.1.0.3", "JCGM 100:2008", "ISO/IEC 18004",
    "0000-0002-1825-0097", "978-0-306-40615-7", "0032-3861", "S/N 00123456", "coupon A10, S02",
    "cell 3: 12", "load cell 100000", "phone at 10:15", "C++ std::vector", "PLA, grey", "Jo", "",
)  # fmt: skip


def test_each_kind_is_seen_alone_and_within_a_sentence():
    for kind, examples in SEEN.items():
        for text in examples:
            for before, after in (("", ""), ("see ", " then"), ("(", ")"), ("from ", ".")):
                found = private_parts(before + text + after)
                assert [(p.kind, p.seen, p.start) for p in found] == [(kind, text, len(before))]


@pytest.mark.parametrize("text", NOT_SEEN)
def test_what_a_bench_writes_is_not_taken_for_it(text):
    assert private_parts(text) == ()
    assert private_parts(f"at noon {text} again") == ()
    assert without_private(text) == text


MARKED = st.sampled_from([text for examples in SEEN.values() for text in examples])
PLAIN = st.sampled_from([text for text in NOT_SEEN if text])


@given(st.lists(PLAIN | MARKED, min_size=1, max_size=6))
def test_all_of_a_mixed_text_is_seen_and_nothing_else(pieces):
    known = {text for examples in SEEN.values() for text in examples}
    text = "; ".join(pieces)
    assert [p.seen for p in private_parts(text)] == [one for one in pieces if one in known]


@given(st.text(max_size=300))
def test_places_are_those_of_the_text_and_what_is_left_out_stays_out(text):
    for part in private_parts(text):
        assert text[part.start :].startswith(part.seen)
    again = private_parts(without_private(text).replace(LEFT_OUT, " "))
    assert not [part for part in again if part.kind == "e-mail"]


def test_long_texts_made_to_be_slow_are_read_in_one_go():
    import time

    pieces = ["/", "a/", "a.", "\\a ", "a@", "0 1", "C:\\a b", "~a/", "::", "aa:", "+1 ", "a b\\",
              "10.", "x.y@", "tel ", " a", "\\"]  # fmt: skip
    begun = time.process_time()
    for piece in pieces:
        private_parts(piece * (20_000 // len(piece)))
    assert time.process_time() - begun < 5  # a tenth of it; gone wild: minutes
