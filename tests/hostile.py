"""Names that mean something to a terminal, to Markdown, to a page or to a spreadsheet."""

HOSTILE = (
    "[/bold] Bob",
    "[bold]Bob[/bold]",
    "Ben [coach]",
    "![t](http://127.0.0.1:9/x.png)",
    "[t](https://example.org)",
    "http://127.0.0.1:9/y",
    "www.example.org",
    "ann@example.org",
    "<img src=x onerror=1>",
    "<b>Bo</b> &amp; &#42;",
    "$x$ and $$y$$",
    ":red[a]",
    ":red-background[a]",
    ":small[b] :material/home: :streamlit:",
    ":smile: :+1: :100:",
    ":::note",
    "a|b",
    "**x** _y_ __z__ ~~w~~ `v`",
    "a_b_c *",
    "back\\slash \\*",
    "=1+1",
    "- list",
    "1. list",
    "# head",
    "> said",
    "---",
    "a -> b <- c -- d >= e <= f ~= g <-> h",
    "[^1] [x]: y",
    "Zo\u00eb \u4e2d\u6587 \u05d0\u05d1",
    "\U0001f468\u200d\U0001f469\u200d\U0001f467 \U0001f3cc\ufe0f",
    "right\u202eto left",
    "no\u200bwidth",
    "x" * 200,
)
"""Every one is a name that a shot log may hold: control characters are refused when it is read."""

CONTROL = ("a\x1b[2Jb", "bell\x07", "a\nb\tc\r", "\x9b31m", "\ud800")
"""Names that only other ways than a shot log may bring."""
