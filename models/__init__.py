"""The mathematics: tendencies, impact, flight and run; no file, no database, no page."""
