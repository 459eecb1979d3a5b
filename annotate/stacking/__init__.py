"""What no single photograph gives: many senders' pictures of one Moon put together."""
