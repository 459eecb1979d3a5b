"""Words to speak from: facts of what a picture shows, as sentences that carry the numbers they were made from."""
