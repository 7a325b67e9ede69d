"""Papers made by hand, and stored fits to make them of."""

from datetime import date

from tests.fits import make_fit
from tracker.records import Change
from tracker.report.paper import Drawing, Paper, Part, Table

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60" height="40" viewBox="0 0 60 40">'
    '<defs><clipPath id="clip1"><rect width="60" height="40"/></clipPath></defs>'
    '<g clip-path="url(#clip1)"><rect width="60" height="40" fill="#1B7F9E"/></g></svg>'
)
UP = "strike_up_mm"
HIGHER = Change("Bob", date(2026, 1, 20), "drill", "tee it higher", UP, 2.0)
PRINTED = date(2026, 6, 1)


def paper(name="Ann", **changes):
    """Return a paper with a name wherever one can stand."""
    parts = {
        "title": name,
        "about": f"Driver. {name}.",
        "problems": (),
        "headline": f"Next: {name}.",
        "lead": f"{name} is promised +3 yd.",
        "drawings": (Drawing(SVG, f"Dots: {name}.", f"Shots of {name}."),) * 2,
        "parts": (Part(name, (name,), (name,), Table((name, "Gain"), ((name, "+3 yd"),), name)),),
        "cautions": (f"Mind {name}.",),
        "source": f"From 40 shots of {name}.",
        "most_pages": 1,
    }
    return Paper(**(parts | changes))


def squad_fit(**how):
    """Return a small squad: Ann strikes low, and a drill that Bob did lifts the strike by 8 mm."""
    how = {"changes": (HIGHER,), "drill_effect": {HIGHER.name: {UP: 8.0}}} | how
    return make_fit(
        {
            "Ann": {"strike_up_mm": -14.0, "attack_deg": -3.0},
            "Bob": {"strike_up_mm": 4.0, "attack_deg": 1.0},
            "Cleo": {"strike_up_mm": -2.0, "attack_deg": 0.0},
        },
        days=(0, 7, 14, 21, 28, 35),
        **how,
    )
