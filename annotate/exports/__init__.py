"""A placed picture in the formats of other programs: FITS with coordinates on the Moon, GeoJSON. Pure."""
