"""What can be set, and where: at the desk, in moondesk.toml, in the environment, by option."""
