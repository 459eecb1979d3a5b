"""How names on the Moon are said: in the sounds of the phonetic alphabet, and respelled for who speaks a language."""
