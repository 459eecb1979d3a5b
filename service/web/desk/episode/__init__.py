"""The episode: the running order with what is said in each item, and the prompter that it is read from."""
