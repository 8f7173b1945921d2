"""Templates that come with the package, by language."""

import json
from functools import cache
from importlib import resources

from arteriole.errors import OptionError
from arteriole.report.template import Template, template_from_mapping

NAMES = ("de",)


@cache
def named_template(name: str) -> Template:
    """Return the template of this name.

    Raises
    ------
    OptionError
        There is none of this name.
    """
    if name not in NAMES:
        raise OptionError(
            f"Template {name!r} was asked for; named ones are: {', '.join(NAMES)}. Choose one, or "
            "name a JSON or TOML file."
        )
    text = resources.files("arteriole.report.templates").joinpath(f"{name}.json").read_text("utf-8")
    return template_from_mapping(json.loads(text))
