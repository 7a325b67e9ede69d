"""The mathematics: tendencies, impact, flight and run; no file, no database, no page."""

from pathlib import Path

from models.compiled_code import use_digest_folder

use_digest_folder(Path(__file__).parent)
