"""Text and data that XML and a machine's controller can hold."""

from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import ascii_line, xml_text


@given(st.text(alphabet=st.characters()))
def test_any_text_can_be_put_into_xml(text):
    made = xml_text(text)
    element = ElementTree.Element("t")
    element.text = made
    read = ElementTree.fromstring(ElementTree.tostring(element)).text or ""
    assert read == made.replace("\r\n", "\n").replace("\r", "\n") or read == made
    assert len(made) == len(text)


def test_what_xml_takes_is_left_alone_in_data_as_well():
    data = {"name": ["Принтер °C\t🙂", ("a", 1)], "n": 2.5}
    assert xml_text(data) == {"name": ["Принтер °C\t🙂", ["a", 1]], "n": 2.5}
    assert xml_text({"a\x00": "b\x1b"}) == {"a\ufffd": "b\ufffd"}


@given(st.text())
def test_a_controller_gets_one_line_of_printable_ascii(text):
    made = ascii_line(text)
    assert made.isascii()
    assert made == "" or made.isprintable()
