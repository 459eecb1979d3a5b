"""After the show: what was on air, confirmed with one look, and the files that remain of an evening."""
