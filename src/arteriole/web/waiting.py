"""The page shown while a recording is measured for the first time."""

import htpy as h

from arteriole.store import StudyRow
from arteriole.web.page import Face, page


def waiting(face: Face, row: StudyRow, fault: str) -> str:
    """Return a page that opens the Bench when it is ready, or says why it cannot be."""
    t = face.t
    body: h.Node = (
        h.p(".message", role="alert")[fault]
        if fault
        else h.p("#waiting", role="status", data_study=row.id)[
            h.span(".busy")[t("waiting")], " ", h.progress(aria_label=t("waiting"))
        ]
    )
    return page(
        face, row.title, h.h1[row.title], body, h.p[h.a(href="/")[t("nav.shelf")]],
        script="plain.js", simulated=row.simulated, current="bench", study_id=row.id,
    )  # fmt: skip


def fault_page(face: Face, message: str) -> str:
    """Return a page with one message and the way back."""
    t = face.t
    return page(
        face, t("fault.title"), h.h1[t("fault.title")],
        h.p(".message", role="alert")[message], h.p[h.a(href="/")[t("nav.shelf")]],
        script="plain.js",
    )  # fmt: skip
