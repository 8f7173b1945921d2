"""The JSON Schema of the result document, generated from the models."""

import json
from importlib import resources
from typing import Any

from arteriole.document.models import ResultDocument

SCHEMA_FILE = "result.schema.json"


def generated_schema() -> dict[str, Any]:
    """Return the schema as the models say it is."""
    schema = ResultDocument.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | schema


def shipped_schema() -> dict[str, Any]:
    """Return the schema that ships with the package; a test keeps it equal to the models."""
    text = resources.files("arteriole.document").joinpath(SCHEMA_FILE).read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded
