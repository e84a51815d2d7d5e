"""One take, from its first click to its last note kept: what comes in, what is due, who has gone away."""
