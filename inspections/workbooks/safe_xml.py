"""XML of files that may be hostile: no entities, no document type, nothing fetched, one element at a time."""

from xml.parsers import expat

ENCODINGS = ("utf-8", "us-ascii")


class UnsafeXml(ValueError):
    """Not well formed, or with a part that no workbook needs."""


def xml_parser(start, end=None, *, namespaces=False):
    """A parser that calls `start(name, attributes)` and `end(name)`, names with their prefix.

    With `namespaces`, names are the namespace, a blank, and the name within. Set its `CharacterDataHandler` while the
    text of an element is wanted.
    """
    parser = expat.ParserCreate(namespace_separator=" ") if namespaces else expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.StartDoctypeDeclHandler = _refuse_document_type
    parser.XmlDeclHandler = _only_utf_8
    return parser


def parse(parser, content):
    """UnsafeXml where the bytes are not well formed, have a document type, or are in anything but UTF-8."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in content[:4]:
        raise UnsafeXml("an encoding other than UTF-8")
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise UnsafeXml(str(error)) from error


def _refuse_document_type(*declaration):
    raise UnsafeXml("a document type")


def _only_utf_8(version, encoding, standalone):
    if encoding and encoding.lower() not in ENCODINGS:
        raise UnsafeXml(f"the encoding {encoding}")


def local_name(name):
    return name.rpartition(":")[2]
