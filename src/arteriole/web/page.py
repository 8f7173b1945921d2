"""The frame of every page: head, navigation, SIMULATED, caution, keyboard map."""

from dataclasses import dataclass

import htpy as h
from starlette.requests import Request

from arteriole import CAUTION, __version__
from arteriole.web.guard import DEFAULT_READER
from arteriole.web.keymap import keymap_dialog
from arteriole.web.texts import LANGUAGES, NAMES, Texts, texts_in

THEMES = ("dark", "light")
#: Modules that a page's script imports; named so that the browser fetches them at once.
MODULES = {
    "bench.js": ("page.js", "trace-view.js", "trace-wire.js", "trace-paint.js"),
    "shelf.js": ("page.js",),
    "plain.js": ("page.js",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """How this reader sees pages: texts, language, theme ("" = as the system), name, path."""

    t: Texts
    language: str
    theme: str
    reader: str
    path: str


def face_of(request: Request) -> Face:
    """Return the face from the request's cookies."""
    language = request.cookies.get("language", "en")
    theme = request.cookies.get("theme", "")
    language = language if language in LANGUAGES else "en"
    return Face(
        t=texts_in(language), language=language, theme=theme if theme in THEMES else "",
        reader=getattr(request.state, "reader", DEFAULT_READER), path=request.url.path,
    )  # fmt: skip


def page(
    face: Face,
    title: str,
    *content: h.Node,
    script: str,
    simulated: bool = False,
    current: str = "",
    study_id: str = "",
    ahead: tuple[str, ...] = (),
) -> str:
    """Return a whole page as HTML; ``ahead``: addresses that its script will ask for first."""
    t = face.t
    root = h.html(lang=face.language, data_theme=face.theme or None)[
        h.head[
            h.meta(charset="utf-8"),
            h.meta(name="viewport", content="width=device-width, initial-scale=1"),
            h.title[f"{title} · arteriole"],
            h.link(rel="icon", href="/static/mark.svg", type="image/svg+xml"),
            [h.link(rel="stylesheet", href=_static(f)) for f in ("look.css", "bench.css")],
            [h.link(rel="modulepreload", href=f"/static/{m}") for m in MODULES.get(script, ())],
            [h.link(rel="preload", as_="fetch", crossorigin="anonymous", href=a) for a in ahead],
            h.script(type="module", src=_static(script)),
        ],
        h.body(
            data_study=study_id or None, data_ours=t("toast.error"), data_stale=t("toast.stale")
        )[
            h.a(".skip", href="#main")[t("nav.skip")],
            h.header(".top")[
                h.a(".brand", href="/")["arteriole"],
                h.nav(aria_label=t("nav.label"))[_links(face, current, study_id)],
                h.div(".right")[_choices(face)],
            ],
            h.main("#main", tabindex="-1")[
                simulated and h.p(".simulated", role="note")[t("simulated")], content
            ],
            h.footer(".caution")[h.p[CAUTION if face.language == "en" else t("caution")]],
            keymap_dialog(t),
            h.div("#toast.toast", role="alert"),
        ],
    ]
    return str(root)


def _static(name: str) -> str:
    return f"/static/{name}?v={__version__}"


def _links(face: Face, current: str, study_id: str) -> list[h.Element]:
    t = face.t
    rows = [("shelf", "/")]
    if study_id:
        here = f"/studies/{study_id}"
        rows += [("bench", here), ("letter", f"{here}/letter"), ("ledger", f"{here}/ledger")]
    rows.append(("compare", "/compare"))
    return [
        h.a(href=href, aria_current="page" if name == current else None)[t(f"nav.{name}")]
        for name, href in rows
    ]


def _choices(face: Face) -> list[h.Element]:
    t = face.t
    return [
        h.label[
            h.span[t("reader")],
            h.input("#reader", type="text", value=face.reader, maxlength="60", size="18",
                    autocomplete="off"),
        ],
        h.label[
            h.span(".sr")[t("language")],
            h.select("#language")[
                (h.option(value=k, selected=k == face.language)[NAMES[k]] for k in LANGUAGES)
            ],
        ],
        h.button("#theme", type="button", data_dark=t("theme.dark"), data_light=t("theme.light"))[
            t("theme.light") if face.theme == "dark" else t("theme.dark")
        ],
        h.button("#keys-open", type="button", aria_haspopup="dialog")[h.kbd["?"], t("keys.short")],
    ]  # fmt: skip
