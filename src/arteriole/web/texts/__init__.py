"""Every word of the pages, one module per language; English leads, others follow its keys."""

from collections.abc import Callable
from functools import cache

from arteriole.web.texts.de import TEXTS as DE
from arteriole.web.texts.en import TEXTS as EN

LANGUAGES = {"en": EN, "de": DE}
NAMES = {"en": "English", "de": "Deutsch"}

Texts = Callable[..., str]


@cache
def texts_in(language: str) -> Texts:
    """Return the lookup for a language: key and values to text; English fills what is missing."""
    chosen = LANGUAGES.get(language, EN)

    def text(key: str, **values: object) -> str:
        found = chosen.get(key) or EN[key]
        return found.format(**values) if values else found

    return text
