"""What of the named features a picture shows: where each lies, in which light, and whether it can be made out."""
