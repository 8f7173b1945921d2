"""Comparison: two studies of one patient on one axis, change against published retest noise."""

import htpy as h

from arteriole.indices.index import Index
from arteriole.interpret.change import Change, change_between
from arteriole.report.words import label
from arteriole.store import StudyRow
from arteriole.web import charts
from arteriole.web.bench import interval_text, value_text
from arteriole.web.desk import Reading
from arteriole.web.page import Face, page
from arteriole.web.texts import Texts

Row = tuple[Index, Index, Change]
NUMBERS = frozenset({"A", "B", "change"})


def compared(earlier: Reading, later: Reading) -> tuple[Row, ...]:
    """Return every index that at least one of the two has, with its change, in their order."""
    second = {i.key: i for i in later.result.indices}
    return tuple(
        (i, second[i.key], change_between(i, second[i.key]))
        for i in earlier.result.indices
        if i.key in second and (i.value is not None or second[i.key].value is not None)
    )


def warnings(earlier: Reading, later: Reading, t: Texts) -> list[str]:
    """Return why the two may not be comparable."""
    one, two = earlier.effective.sheet, later.effective.sheet
    found = []
    for name in ("vessel", "segment"):
        a, b = getattr(one, name), getattr(two, name)
        if a != b:
            found.append(
                t("compare.differs", field=name, a=a or t("not_recorded"), b=b or t("not_recorded"))
            )
    if one.hyperaemia.agent != two.hyperaemia.agent:
        found.append(t("compare.differs", field="agent", a=one.hyperaemia.agent or
                       t("not_recorded"), b=two.hyperaemia.agent or t("not_recorded")))  # fmt: skip
    if earlier.effective.rules != later.effective.rules:
        found.append(t("compare.rules"))
    return found


def compare(
    face: Face, studies: tuple[StudyRow, ...], earlier: Reading | None, later: Reading | None
) -> str:
    """Return the page; without two studies it asks for them."""
    t = face.t
    simulated = any(r is not None and r.row.simulated for r in (earlier, later))
    body: list[h.Node] = [h.h1[t("compare.title")], _choose(t, studies, earlier, later)]
    if earlier is not None and later is not None:
        body.append(_table(t, earlier, later))
    return page(face, t("compare.title"), body, script="plain.js", simulated=simulated,
                current="compare")  # fmt: skip


def _choose(
    t: Texts, studies: tuple[StudyRow, ...], a: Reading | None, b: Reading | None
) -> h.Element:
    def pick(name: str, chosen: Reading | None) -> h.Element:
        return h.label[
            h.span[t(f"compare.{name}")],
            h.select(f"#{name}", name=name)[
                h.option(value="")["–"],
                (h.option(value=s.id, selected=chosen is not None and chosen.row.id == s.id)[
                    f"{s.title} · {s.created_at:%Y-%m-%d %H:%M}"] for s in studies),
            ],
        ]  # fmt: skip

    return h.form(".bar", action="/compare", method="get")[
        pick("a", a), pick("b", b), h.button(".primary")[t("compare.go")]
    ]


def _table(t: Texts, a: Reading, b: Reading) -> h.Node:
    worries = warnings(a, b, t)
    return [
        worries and h.ul(".message.plain", role="note")[(h.li[w] for w in worries)],
        h.section(".panel")[
            h.p[h.strong["A"], f" {a.row.title} – {a.result.statement.pattern}"],
            h.p[h.strong["B"], f" {b.row.title} – {b.result.statement.pattern}"],
            h.div(".scroll")[h.table("#changes.compare")[
                h.thead[h.tr[(h.th(class_="num" if k in NUMBERS else None, scope="col")[
                    k if len(k) == 1 else t(f"head.{k}")]
                    for k in ("index", "A", "B", "axis", "change", "noise", "said"))]],
                h.tbody[(_row(t, *row) for row in compared(a, b))],
            ]],
            h.p(".small.soft")[t("compare.note")],
        ],
    ]  # fmt: skip


def _row(t: Texts, one: Index, two: Index, c: Change) -> h.Element:
    d = one.decimals
    return h.tr(data_key=one.key)[
        h.th(scope="row")[label(one), " ", h.span(".tag")[t(f"method.{one.method}")]],
        h.td(".num")[value_text(one), h.div(".small.soft")[interval_text(one)]],
        h.td(".num")[value_text(two), h.div(".small.soft")[interval_text(two)]],
        h.td[charts.change((("A", one), ("B", two)), t)],
        h.td(".num")["–" if c.difference is None else f"{c.difference:+.{d}f}"],
        h.td(".small")["–" if c.noise95 is None else f"±{c.noise95:.{d}f} {c.source}"],
        h.td[h.span(f".tag.{'strong' if c.word.startswith('larger') else 'dashed'}")[
            t("change." + c.word)]],
    ]  # fmt: skip
