"""How a page of paper is written as one HTML file that holds all it needs and asks for nothing."""

import re
from html import escape

from tracker.report.paper import Drawing, Paper, Part, Table

_STYLE = """
:root { color-scheme: light }
body { font: 11pt/1.45 Georgia, serif; color: #23282C; background: #fff; max-width: 46em;
  margin: 2em auto; padding: 0 1em; overflow-wrap: anywhere }
h1 { font-size: 1.9em; margin: 0 } h2 { font-size: 1.15em; margin: 1.2em 0 .3em }
.about, figcaption, footer { color: #565C61 } .about { margin: 0 0 .5em }
header { border-bottom: 1.5px solid #1B7F9E } .headline { font-size: 1.35em; font-weight: 600;
  color: #16697F; margin: .8em 0 .2em }
.problems { border: 1.5px solid #1B7F9E; padding: .5em 1em; margin-top: 1em }
.drawings { display: flex; flex-wrap: wrap; gap: 1.5em } figure { flex: 1 1 20em; margin: 1em 0 }
figure svg { width: 100%; height: auto } figcaption, footer { font-size: .85em }
table { border-collapse: collapse; width: 100%; font-size: .9em }
th, td { text-align: left; padding: .25em .6em .25em 0; border-bottom: 1px solid #D5D8DA;
  vertical-align: top }
ul { padding-left: 1.2em; margin: .3em 0 } footer { margin-top: 1.5em }
@page { size: A4; margin: 14mm }
@media print { body { font-size: 9.5pt; margin: 0; padding: 0; max-width: none }
  figure { flex-basis: 40% } figure, table, li { break-inside: avoid } }
"""


def as_html(paper: Paper) -> str:
    """Return a paper as one file: every text escaped, the drawings inside, nothing to fetch."""
    problems = ""
    if paper.problems:
        why = "What this page rests on did not pass its checks"
        problems = f'<div class="problems"><strong>{why}</strong>{_items(paper.problems)}</div>'
    drawings = "".join(_drawing(one, place) for place, one in enumerate(paper.drawings))
    title = escape(paper.title)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{title}</title><style>{_STYLE}</style></head>\n<body>"
        f'<header><h1>{title}</h1><p class="about">{escape(paper.about)}</p></header>\n{problems}'
        f'<p class="headline">{escape(paper.headline)}</p>\n<p>{escape(paper.lead)}</p>\n'
        f'<div class="drawings">{drawings}</div>\n'
        f"{''.join(_part(part) for part in paper.parts)}"
        f"<h2>Take care</h2>{_items(paper.cautions)}\n"
        f"<footer>{escape(paper.source)}</footer></body></html>\n"
    )


def _part(part: Part) -> str:
    sentences = "".join(f"<p>{escape(sentence)}</p>" for sentence in part.sentences)
    items = _items(part.items) if part.items else ""
    table = "" if part.table is None else _table(part.table)
    return f"<h2>{escape(part.heading)}</h2>{sentences}{items}{table}\n"


def _items(items: tuple[str, ...]) -> str:
    return f"<ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"


def _table(table: Table) -> str:
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in table.columns)
    rows = "".join(
        f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in table.rows
    )
    note = f'<p class="about">{escape(table.note)}</p>' if table.note else ""
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{note}"


def _drawing(one: Drawing, place: int) -> str:
    """Return a drawing inside the page; its names are its own, as several share the page."""
    svg = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>d{place}-", one.svg)
    said = f'<svg role="img" aria-label="{escape(one.words)}"'
    svg = svg.replace("<svg", said, 1)
    return f"<figure>{svg}<figcaption>{escape(one.caption)}</figcaption></figure>"
