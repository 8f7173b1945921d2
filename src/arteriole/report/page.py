"""The document tree as one self-contained HTML page: no scripts, nothing fetched, two themes."""

import htpy as h
from markupsafe import Markup

from arteriole.figure.svg import DARK, PRINT, style
from arteriole.report.tree import (
    Block,
    Bullets,
    Facts,
    Lines,
    Paragraph,
    Picture,
    Report,
    Section,
    Table,
)
from arteriole.report.words import clean

_LOOK = """
*{box-sizing:border-box}
:root{color-scheme:light dark;--ink:#1A1A1A;--soft:#575C63;--rule:#D0D2D5;--paper:#fff}
body{margin:0;background:var(--paper);color:var(--ink);
font:15px/1.45 "Libertinus Serif",Charter,Georgia,serif}
main{max-width:1000px;margin:0 auto;padding:28px 24px 60px}
h1{font-size:24px;font-weight:600;margin:0 0 4px}
h2{font-size:16px;font-weight:600;margin:26px 0 8px;padding-top:8px;
border-top:1px solid var(--rule)}
.caution,.identity{color:var(--soft);font-size:13px;margin:4px 0}
.banner{font-weight:700;letter-spacing:.06em;border:2px solid var(--ink);padding:3px 10px;
display:inline-block;margin:6px 0}
.lead{font-size:19px;line-height:1.4;margin:6px 0}.small{color:var(--soft);font-size:12.5px}
p{margin:6px 0}ul{margin:6px 0;padding-left:20px}
table{border-collapse:collapse;width:100%;font-size:13.5px;margin:8px 0;
font-variant-numeric:tabular-nums lining-nums;table-layout:fixed}
caption{text-align:left;color:var(--soft);font-size:12.5px;padding:2px 0}
th{text-align:left;font-weight:600;border-bottom:1px solid var(--ink);padding:3px 10px 3px 0}
td{border-bottom:1px solid var(--rule);padding:3px 10px 3px 0;vertical-align:top;
overflow-wrap:anywhere}
dl{display:grid;grid-template-columns:max-content 1fr max-content 1fr;gap:3px 14px;
margin:8px 0;font-size:13.5px}
dt{color:var(--soft)}dd{margin:0;overflow-wrap:anywhere}
.lines{display:flex;gap:30px;margin:34px 0 6px}.lines span{flex:1;border-top:1px solid var(--ink);
font-size:12.5px;color:var(--soft);padding-top:2px}
svg.fig{width:100%;height:auto;display:block;margin:8px 0;font-family:inherit}
.scroll{overflow-x:auto}
.logo svg{max-height:48px}
@media (max-width:640px){dl{grid-template-columns:max-content 1fr}
table{table-layout:auto;min-width:640px}}
@media screen and (prefers-color-scheme:dark){:root{--ink:#E6E3DA;--soft:#9AA0A8;--rule:#2A2F37;
--paper:#0E1116}DARKFIGURES}
@media print{@page{size:A4;margin:6mm 8mm}:root{color-scheme:light}
body{font-size:7.2pt;line-height:1.06}
main{max-width:none;padding:0}h1{font-size:13pt}h2{font-size:9pt;margin:2pt 0 0;
padding-top:1.5pt;break-after:avoid}.lead{font-size:10.5pt}table,dl{font-size:6.4pt;margin:1pt 0}
table.dense{font-size:5.7pt;line-height:1.02}
td,th{padding:.1pt 5pt .1pt 0}dl{gap:0 8pt}
.small,.caution,.identity,caption{font-size:7pt}p,ul{margin:1.5pt 0}
.lines{margin:18pt 0 2pt}tr,svg.fig,.lines{break-inside:avoid}svg.fig{margin:0 auto;width:46%}}
"""


def render(report: Report) -> str:
    """Return the page; every word is escaped by the HTML writer."""
    look = _LOOK.replace("DARKFIGURES", style(DARK))
    page = h.html(lang=report.language)[
        h.head[
            h.meta(charset="utf-8"),
            h.meta(name="viewport", content="width=device-width, initial-scale=1"),
            h.title[clean(f"{report.title} · {report.identity}", 160)],
            h.style[Markup(style(PRINT) + look)],  # noqa: S704 own constants only
        ],
        h.body[
            h.main[
                report.logo_svg
                and h.img(".logo", src=_picture_address(report.logo_svg), alt="Logo", height="48"),
                h.h1[clean(report.title)],
                _banner(report),
                h.p(".caution")[report.caution],
                report.who and _block(Facts(rows=report.who)),
                (_section(s) for s in report.sections),
                h.footer[
                    _banner(report),
                    h.p(".identity")[clean(report.identity)],
                    h.p(".caution")[report.caution],
                ],
            ]
        ],
    ]
    return str(page)


def _picture_address(svg: str) -> str:
    # As an image, an SVG runs no script and fetches nothing, whatever it holds.
    from base64 import b64encode

    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"


def _banner(report: Report) -> h.Node:
    return h.p(".banner")[report.banner] if report.banner else None


def _section(section: Section) -> h.Node:
    return h.section(id=section.key)[
        h.h2[clean(section.heading)], (_block(b) for b in section.blocks)
    ]


def _block(block: Block) -> h.Node:
    match block:
        case Paragraph(words=words, weight=weight):
            return h.p(class_=weight)[clean(words)]
        case Facts(rows=rows):
            return h.dl[([h.dt[clean(k)], h.dd[h.bdi[clean(v)]]] for k, v in rows)]
        case Bullets(rows=bullets):
            return h.ul[(h.li[clean(words)] for words in bullets)]
        case Table(caption=caption, head=head, rows=cells, widths=widths, dense=dense):
            return h.div(".scroll", tabindex="0", role="region", aria_label=caption)[
                h.table(class_="dense" if dense else None)[
                    h.caption[clean(caption)],
                    h.colgroup[(h.col(style=f"width:{100 * w:.0f}%") for w in widths)],
                    h.thead[h.tr[(h.th(scope="col")[x] for x in head)]],
                    h.tbody[(h.tr[(h.td[h.bdi[clean(v)]] for v in row)] for row in cells)],
                ]
            ]
        case Picture(svg=svg, caption=caption):
            drawn = Markup(svg)  # noqa: S704 written by figure, its words escaped there
            return h.fragment[drawn, caption and h.p(class_="small")[clean(caption)]]
        case Lines(labels=labels):
            return h.div(".lines")[(h.span[name] for name in labels)]
