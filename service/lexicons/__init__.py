"""The words of letters, a file a language (`data`), and what finds them in a text: see `lexicon` for what a file holds."""
