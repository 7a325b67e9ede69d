"""What a picture says, read from the plain data it is drawn from."""

from tracker.charts.ink import specification


def layers(chart):
    """Return the single layers of a picture, from back to front."""
    found, open_ = [], [specification(chart)]
    while open_:
        spec = open_.pop(0)
        if "layer" in spec:
            open_ = [*spec["layer"], *open_]
        else:
            found.append(spec)
    return found


def encodings(chart):
    """Return how every layer uses its two axes."""
    return [e for layer in layers(chart) for k, e in layer["encoding"].items() if k in ("x", "y")]


def titles(chart):
    """Return the titles of the axes."""
    return {e["title"] for e in encodings(chart) if e.get("title")}


def drawing(chart, table, kind=None):
    """Return the layers that draw a table, with one kind of mark where it is given."""
    return [
        layer
        for layer in layers(chart)
        if layer["data"]["name"] == table and kind in (None, layer["mark"]["type"])
    ]
