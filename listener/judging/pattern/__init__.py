"""Was the pattern of a passage played: which strums and picks fell out or came too many, and how even they were."""
