"""Paper: a player's page and a squad's, made from a stored fit."""
