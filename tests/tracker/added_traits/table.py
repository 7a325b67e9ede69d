"""The trait table with two rows more, loaded in place of the real one: ``pytest -p`` this module.

Tuples made from the table at import are then made from the longer one, as after an edit.
"""

import importlib.util
import sys
import tempfile
from pathlib import Path

import models

NAME = "models.traits"
END_OF_TABLE = ")  # fmt: skip\n\nTRAITS"
ROWS = """\
    Trait(
        "invented_ratio", "tempo", "times", "slower back", "quicker back",
        1, 8, "delivery", "ratio", 2,
        _prior(mean=3, mean_sd=0.5, between=0.4, shot_sd=0.15, change=0.4, bias=0.05),
        reading_sd=0.02,
    ),
    Trait(
        "invented_deg", "shoulder turn", "deg", "wider", "narrower",
        20, 160, "delivery", "angle", 1,
        _prior(mean=90, mean_sd=8, between=8, shot_sd=3, change=8, bias=1),
        reading_sd=1.0,
        goal="more",
        signed=False,
        words=Words(
            "turning too little", "turning too far", "wider", "narrower", "turn", most="widest"
        ),
        caution="A wider turn loads the hips.",
    ),
"""

if NAME in sys.modules:
    raise RuntimeError(f"{NAME} was loaded before the rows could be added")
_source = (Path(models.__file__).parent / "traits.py").read_text(encoding="utf-8")
if _source.count(END_OF_TABLE) != 1:
    raise RuntimeError("the end of the trait table was not found")
_copy = Path(tempfile.mkdtemp()) / "traits.py"
_copy.write_text(_source.replace(END_OF_TABLE, ROWS + END_OF_TABLE), encoding="utf-8")
_spec = importlib.util.spec_from_file_location(NAME, _copy)
if _spec is None or _spec.loader is None:
    raise RuntimeError(f"{_copy} cannot be loaded")
_longer = importlib.util.module_from_spec(_spec)
sys.modules[NAME] = _longer
_spec.loader.exec_module(_longer)
vars(models)["traits"] = _longer
