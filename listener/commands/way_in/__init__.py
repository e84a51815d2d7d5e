"""Commands that make the program easier to use: docs, completion, help."""
