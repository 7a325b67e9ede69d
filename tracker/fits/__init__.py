"""Stored shots to a stored fit."""
