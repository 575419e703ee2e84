"""Read XML that came from outside: safely, and held against a published schema.

No entities, no documents fetched, a limit of size: a file cannot make this machine read
another one, or grow without end.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

import xmlschema
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

from kb.base.errors import Problem, Problems

SCHEMAS = Path(__file__).parent / "schemas"
LARGEST = 200 * 1024**2
# How many faults of a file are told before the rest is only counted.
TOLD = 50


def read(data: bytes, where: str, schema: str, code: str) -> Element:
    """The root of a document that the schema of this name allows.

    Raises Problems with every fault, each with its path in the document.
    """
    if len(data) > LARGEST:
        message = f"has {len(data)} bytes; {LARGEST} are the most"
        raise Problems([Problem(where, 0, code, message)])
    try:
        root: Element = fromstring(data, forbid_dtd=True)
    except DefusedXmlException as error:
        message = f"declares entities or a document type, which is not read: {error}"
        raise Problems([Problem(where, 1, code, message)]) from None
    except (ParseError, ValueError, LookupError) as error:
        line = getattr(error, "position", (1, 0))[0]
        raise Problems([Problem(where, line, code, f"is not XML: {error}")]) from None
    faults = [
        Problem(where, 0, code, f"{fault.path}: {fault.reason}")
        for fault in _schema(schema).iter_errors(root)
    ]
    if len(faults) > TOLD:
        rest = Problem(where, 0, code, f"and {len(faults) - TOLD} more faults")
        faults = [*faults[:TOLD], rest]
    if faults:
        raise Problems(faults)
    return root


@cache
def _schema(name: str) -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(SCHEMAS / name, allow="local")


def plain(tag: str) -> str:
    """A tag without its namespace."""
    return tag.rpartition("}")[2]
