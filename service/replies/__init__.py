"""What leaves the desk by mail: thanks with what helps, approved by a person, sent once."""
