"""What makes the program easier to use: docs, completion, help."""
