"""How the Moon stood: time scales, ephemeris, phases, the skies that a time allows."""
