"""Pictures to keep and hand on: many senders' put together (composite, poster, march), and one's own as a card."""
