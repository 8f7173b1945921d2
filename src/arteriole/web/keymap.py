"""The keyboard map: one table from which both the dialog and the script work."""

import htpy as h

from arteriole.web.texts import Texts

#: (keys as pressed, name of the act in static/keys.js or "" where an element listens itself)
KEYS: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("?",), "keys", "keys.keys"),
    (("g",), "shelf", "keys.shelf"),
    (("b",), "bench", "keys.bench"),
    (("l",), "ledger", "keys.ledger"),
    (("/",), "search", "keys.search"),
    (("u",), "undo", "keys.undo"),
    (("r",), "redo", "keys.redo"),
    (("t",), "traces", "keys.traces"),
    (("n",), "next-injection", "keys.next_injection"),
    (("p",), "previous-injection", "keys.previous_injection"),
    (("o",), "leave-out", "keys.leave_out"),
    (("e",), "next-stretch", "keys.next_stretch"),
    (("w",), "measure", "keys.measure"),
    (("k",), "mark-window", "keys.mark_window"),
    (("i",), "indices", "keys.indices"),
    (("s",), "sheet", "keys.sheet"),
    (("d",), "theme", "keys.theme"),
    (("Esc",), "", "keys.escape"),
    (("←", "→"), "", "keys.pan"),
    (("↑", "↓", "+", "−"), "", "keys.zoom"),
    (("0",), "", "keys.whole"),
    (("Shift ←", "Shift →"), "", "keys.far"),
    (("Enter",), "", "keys.enter"),
    (("Delete",), "", "keys.delete"),
)


def keymap_dialog(t: Texts) -> h.Element:
    """Return the dialog that ``?`` opens."""
    return h.dialog("#keymap", aria_labelledby="keymap-title")[
        h.h2("#keymap-title")[t("keys.title")],
        h.ul(".keys")[
            (
                h.li(data_act=act or None, data_key=keys[0] if act else None)[
                    h.span[t(text)], h.span[(h.kbd[k] for k in keys)]
                ]
                for keys, act, text in KEYS
            )
        ],
        h.p[
            h.label[
                h.input("#single-keys", type="checkbox", checked=True),
                h.span[t("keys.single")],
            ]
        ],
        h.div(".acts")[h.button(".primary", type="button", data_close=True)[t("close")]],
    ]
