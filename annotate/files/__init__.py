"""From a file to light: what it is, its pixels, its dates, the photograph in a screenshot."""
