"""Results to JSON and JSON Schema; the only place that knows the document's form."""

from arteriole.document.encode import canonical_bytes, to_json
from arteriole.document.models import SCHEMA, ResultDocument
from arteriole.document.schema import generated_schema, shipped_schema

__all__ = [
    "SCHEMA",
    "ResultDocument",
    "canonical_bytes",
    "generated_schema",
    "shipped_schema",
    "to_json",
]
