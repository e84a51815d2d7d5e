"""One useful sentence about a chord or a take, chosen from all that could be said."""
