"""What a month of nightly programmes explains: ideas told when tonight's picture shows them, and a plan over a lunation."""
