"""The season of a squad: who moved and how, who changed, who needs a look, what is left to gain."""
