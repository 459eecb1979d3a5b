"""Where the Moon lies in a picture: starts, patches, the Sun from the light, least squares."""
