"""The Shelf: the list of studies, search, and import."""

from typing import Any

import htpy as h

from arteriole.store import Store, StudyRow
from arteriole.web.guard import MOST_UPLOAD_BYTES
from arteriole.web.page import Face, page
from arteriole.web.texts import Texts

COLUMNS = ("choose", "study", "state", "vessel", "recording", "ffr", "pattern", "changed")
NUMBERS = frozenset({"ffr", "changed"})
MAPPED = ("pa", "pd", "temp", "shaft_temp", "ecg")


def shelf(face: Face, store: Store, words: str) -> str:
    """Return the page."""
    t = face.t
    rows, last = store.studies(words), store.latest_summaries()
    return page(
        face, t("nav.shelf"),
        h.h1[t("shelf.title")],
        _drop(t),
        h.form("#search-form.bar", role="search", action="/", method="get")[
            h.label[h.span[t("search")],
                    h.input("#search", type="search", name="q", value=words, size="30")],
            h.button[t("search.go")],
            h.span(".soft", role="status")[t("shelf.count", n=len(rows))],
            h.span(".gap"),
            h.button("#compare", type="button", disabled=True)[t("shelf.compare")],
        ],
        h.section(".panel")[
            h.div(".scroll")[h.table("#studies")[
                h.thead[h.tr[(h.th(class_="num" if c in NUMBERS else None, scope="col")[
                    t(f"shelf.{c}")] for c in COLUMNS)]],
                h.tbody[(_row(t, row, last.get(row.id, {})) for row in rows)],
            ]] if rows else h.p(".soft")[t("shelf.empty")],
        ],
        _map_dialog(t),
        script="shelf.js", current="shelf",
    )  # fmt: skip


def _row(t: Texts, row: StudyRow, last: dict[str, Any]) -> h.Element:
    vessel = last.get("vessel", row.sheet.get("vessel")) or t("not_recorded")
    return h.tr(data_study=row.id)[
        h.td[h.input(type="checkbox", data_choose=row.id,
                     aria_label=t("shelf.choose_of", title=row.title))],
        h.th(scope="row")[
            h.a(href=f"/studies/{row.id}")[row.title],
            row.simulated and [" ", h.span(".tag.strong")[t("simulated")]],
        ],
        h.td[h.span(".tag")[t(f"study.{row.state}")], " ", h.span(data_stage=row.id)],
        h.td[vessel],
        h.td(".small")[
            ", ".join(f"{r.name} ({r.duration_s / 60:.1f} min)" for r in row.recordings)
        ],
        h.td(".num")[last.get("ffr") or "–"],
        h.td[last.get("pattern") or "–"],
        h.td(".num.small")[row.changed_at.strftime("%Y-%m-%d %H:%M")],
    ]  # fmt: skip


def _drop(t: Texts) -> h.Element:
    return h.section("#drop.drop", aria_label=t("import.title"), data_limit=f"{MOST_UPLOAD_BYTES}",
                     data_too_large=t("import.too_large", mb=MOST_UPLOAD_BYTES // 1_000_000),
                     data_reading=t("import.reading"), data_sending=t("import.sending"))[
        h.strong[t("import.title")],
        h.span(".soft")[t("import.hint")],
        h.label(".button", for_="files")[t("import.choose")],
        h.input("#files.sr", type="file", multiple=True),
        h.label[h.input("#runs", type="checkbox"), h.span[t("import.runs")]],
        h.progress("#progress", max="100", value="0", hidden=True, aria_label=t("import.sending")),
        h.p("#import-note", role="status"),
    ]  # fmt: skip


def _map_dialog(t: Texts) -> h.Element:
    return h.dialog("#map", aria_labelledby="map-title")[
        h.form("#map-form", method="dialog")[
            h.h2("#map-title")[t("map.title")],
            h.p("#map-why"),
            h.div(".scroll")[h.table("#map-preview")[h.caption[t("map.preview")]]],
            h.div(".sheet")[(
                h.div(".field")[
                    h.label(for_=f"map-{name.replace('_', '-')}")[t(f"channel.{name}")],
                    h.select(f"#map-{name.replace('_', '-')}", name=name,
                             data_none=t("map.none")),
                ]
                for name in MAPPED)],
            h.div(".acts")[
                h.button(type="button", data_close=True)[t("cancel")],
                h.button("#map-ok.primary", value="ok")[t("map.go")],
            ],
        ]
    ]  # fmt: skip
