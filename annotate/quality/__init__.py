"""How good a placed picture is, measured in physical units, and the score with its reasons."""
